//! Letters that nobody's click writes: a certificate ends soon, a refresher or an examination waits. And the letter about what
//! was decided.
//!
//! Never says in a subject what only the person should read: a subject is seen on locked screens.

use super::letter::{About, written};
use crate::domain::letters::Kind;
use crate::store::outbox::NewMail;
use crate::web::view::{ViewError, Views};
use serde::Serialize;

/// What the letter before a certificate's end says.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Expiry<'a> {
    /// Whom it greets.
    pub name: &'a str,
    /// The scheme's title.
    pub scheme: &'a str,
    /// The certificate's number.
    pub number: &'a str,
    /// When it ends, in microseconds since 1970.
    pub until: i64,
    /// The time zone in which that is written.
    pub zone: &'a str,
    /// Whole days that are left.
    pub days: i64,
    /// Where it can be renewed.
    pub link: &'a str,
    /// Where one click ends letters of this kind.
    pub stop: &'a str,
}

/// Why somebody is reminded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Waits {
    /// A refresher is to be taken by a day, or the certificate rests.
    Refresher,
    /// A certificate rests until its holder is examined again.
    Sitting,
    /// The day comes near by which something is to be done.
    DueDay,
}

/// What a reminder says.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Reminder<'a> {
    /// Whom it greets.
    pub name: &'a str,
    /// What waits.
    pub waits: Waits,
    /// The scheme's title, or what is to be done.
    pub thing: &'a str,
    /// By when, or since when, in microseconds since 1970.
    pub at: i64,
    /// The time zone in which that is written.
    pub zone: &'a str,
    /// Where it is done.
    pub link: &'a str,
    /// Where one click ends letters of this kind.
    pub stop: &'a str,
}

/// What the letter about an assignment says.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Assigned<'a> {
    /// Whom it greets.
    pub name: &'a str,
    /// What is to be done.
    pub thing: &'a str,
    /// A moment in the last day for it, in microseconds since 1970.
    pub due: i64,
    /// The time zone in which that is written.
    pub zone: &'a str,
    /// Where it is done.
    pub link: &'a str,
}

/// What the letter about a decision says.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Decision<'a> {
    /// Whom it greets.
    pub name: &'a str,
    /// The scheme's title.
    pub scheme: &'a str,
    /// Whether it was decided on an appeal.
    pub appeal: bool,
    /// The certificate; nothing when none was granted.
    pub certificate: Option<Granted<'a>>,
    /// The time zone in which days are written.
    pub zone: &'a str,
    /// The certificate with its paper, or the sitting with the reason.
    pub link: &'a str,
}

/// What was granted.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Granted<'a> {
    /// The certificate's number.
    pub number: &'a str,
    /// Until when, in microseconds since 1970.
    pub until: i64,
    /// The competences and machines that it is for, in words.
    pub scope: &'a [String],
}

/// A certificate's end as a letter.
///
/// # Errors
/// When a template cannot be drawn.
pub fn expiry(views: &Views, about: About<'_>, of: &Expiry<'_>) -> Result<NewMail, ViewError> {
    written(views, about, "A certificate of yours ends soon".to_owned(), Kind::Expiry, of)
}

/// A reminder as a letter.
///
/// # Errors
/// When a template cannot be drawn.
pub fn reminder(views: &Views, about: About<'_>, of: &Reminder<'_>) -> Result<NewMail, ViewError> {
    let subject = match of.waits {
        Waits::Refresher => "A refresher is due",
        Waits::Sitting => "An examination waits for you",
        Waits::DueDay => "Something is to be done soon",
    };
    written(views, about, subject.to_owned(), Kind::Reminder, of)
}

/// An assignment as a letter.
///
/// # Errors
/// When a template cannot be drawn.
pub fn assignment(views: &Views, about: About<'_>, of: &Assigned<'_>) -> Result<NewMail, ViewError> {
    written(views, about, "You are to do something by a day".to_owned(), Kind::Assignment, of)
}

/// A decision as a letter.
///
/// # Errors
/// When a template cannot be drawn.
pub fn decision(views: &Views, about: About<'_>, of: &Decision<'_>) -> Result<NewMail, ViewError> {
    written(views, about, "What was decided about your certificate".to_owned(), Kind::Decision, of)
}
