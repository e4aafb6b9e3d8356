//! The letter about the week of a branch, for who looks after it.
//!
//! Never names anybody in its subject, and never says more of a person than the pages that it leads to.

use super::letter::{About, written};
use crate::domain::letters::Kind;
use crate::store::outbox::NewMail;
use crate::web::view::{ViewError, Views};
use serde::Serialize;

/// What the letter says.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Digest<'a> {
    /// Whom it greets.
    pub name: &'a str,
    /// The branch's name.
    pub branch: &'a str,
    /// What there is to say, at least one part.
    pub parts: &'a [Part],
    /// The address of the program, without a slash at its end.
    pub origin: &'a str,
    /// The time zone in which days are written.
    pub zone: &'a str,
    /// Where one click ends letters of this kind.
    pub stop: &'a str,
}

/// People about whom the same is to be said.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Part {
    /// What it is about.
    pub title: &'static str,
    /// What stands before each day, such as `ends on`.
    pub when: &'static str,
    /// The page with all of them.
    pub place: String,
    /// One line for each, the earliest in front.
    pub lines: Vec<Line>,
    /// How many more there are on the page.
    pub more: usize,
}

/// One person and what it is about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Line {
    /// Their name.
    pub who: String,
    /// The scheme's title, or what is to be done.
    pub what: String,
    /// The day, as a moment in it, in microseconds since 1970.
    pub at: i64,
}

/// The week as a letter.
///
/// # Errors
/// When a template cannot be drawn.
pub fn digest(views: &Views, about: About<'_>, of: &Digest<'_>) -> Result<NewMail, ViewError> {
    written(views, about, "The week at your branch".to_owned(), Kind::Digest, of)
}
