//! Writing letters: a subject, and the same content as text and as HTML.

use crate::domain::letters::Kind;
use crate::domain::units::Moment;
use crate::store::outbox::NewMail;
use crate::web::view::{ViewError, Views};
use serde::Serialize;

/// What an invitation says.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct Invitation<'a> {
    /// Whom it is for.
    pub name: &'a str,
    /// What they are here for, in words.
    pub role_name: &'a str,
    /// Where they belong.
    pub branch_name: &'a str,
    /// Who invites them; nobody when it came from the command line.
    pub inviter: Option<&'a str>,
    /// Where they choose their password.
    pub link: &'a str,
    /// Until when the link is good, in microseconds since 1970.
    pub until: i64,
    /// The time zone in which that is written.
    pub zone: &'a str,
}

/// What the letter to who has forgotten a password says.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ForgottenPassword<'a> {
    /// Whom it is for.
    pub name: &'a str,
    /// Where they belong.
    pub branch_name: &'a str,
    /// Where they choose another.
    pub link: &'a str,
    /// Until when the link is good, in microseconds since 1970.
    pub until: i64,
    /// The time zone in which that is written.
    pub zone: &'a str,
}

/// What the letter after an examination says.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ExaminationResult<'a> {
    /// Whom it is for.
    pub name: &'a str,
    /// Where they belong.
    pub branch_name: &'a str,
    /// The scheme's title.
    pub scheme: &'a str,
    /// Whether the examination is passed; a certificate is still somebody's decision.
    pub passed: bool,
    /// The score as it is shown, such as "18 of 20".
    pub score: &'a str,
    /// The names of the mandatory safety competences in which a question was missed.
    pub safety_misses: &'a [String],
    /// When it was handed in, in microseconds since 1970.
    pub at: i64,
    /// The time zone in which that is written.
    pub zone: &'a str,
    /// Where every answer is explained.
    pub link: &'a str,
}

/// An invitation as a letter.
///
/// # Errors
/// When a template cannot be drawn.
pub fn invitation(views: &Views, to: &str, of: &Invitation<'_>, now: Moment) -> Result<NewMail, ViewError> {
    let about = About { to, name: of.name, branch_name: of.branch_name, now };
    written(views, about, "Choose your Sootmark password".to_owned(), Kind::Invitation, of)
}

/// A link for a forgotten password as a letter.
///
/// # Errors
/// When a template cannot be drawn.
pub fn forgotten_password(
    views: &Views,
    to: &str,
    of: &ForgottenPassword<'_>,
    now: Moment,
) -> Result<NewMail, ViewError> {
    let about = About { to, name: of.name, branch_name: of.branch_name, now };
    written(views, about, "Choose another Sootmark password".to_owned(), Kind::Password, of)
}

/// The result of an examination as a letter.
///
/// # Errors
/// When a template cannot be drawn.
pub fn examination_result(
    views: &Views,
    to: &str,
    of: &ExaminationResult<'_>,
    now: Moment,
) -> Result<NewMail, ViewError> {
    let outcome = if of.passed { "passed" } else { "not passed" };
    let about = About { to, name: of.name, branch_name: of.branch_name, now };
    written(views, about, format!("{}: {outcome}", of.scheme), Kind::Result, of)
}

/// To whom a letter goes.
#[derive(Clone, Copy, Debug)]
pub struct About<'a> {
    /// Their address.
    pub to: &'a str,
    /// Their name.
    pub name: &'a str,
    /// Where they belong.
    pub branch_name: &'a str,
    /// Now.
    pub now: Moment,
}

#[derive(Serialize)]
struct Context<'a, T> {
    subject: &'a str,
    organisation: &'a str,
    #[serde(flatten)]
    content: &'a T,
}

pub(super) fn written<T: Serialize>(
    views: &Views,
    about: About<'_>,
    subject: String,
    kind: Kind,
    content: &T,
) -> Result<NewMail, ViewError> {
    let subject = one_line(&subject);
    let context = Context { subject: &subject, organisation: about.branch_name, content };
    let template = kind.id();
    Ok(NewMail {
        to_address: one_line(about.to),
        to_name: one_line(about.name),
        text_body: views.render(&format!("mail/{template}.txt"), &context)?,
        html_body: views.render(&format!("mail/{template}.html"), &context)?,
        subject,
        kind,
        person: None,
        about: None,
        threshold: 0,
        unsubscribe_link: None,
        created_at: about.now,
    })
}

/// A text without control characters: nothing in a name may begin a new header line.
pub(crate) fn one_line(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_a_name_begins_a_new_line() {
        assert_eq!(one_line("Ada\r\nBcc: x@example.org\0"), "AdaBcc: x@example.org");
    }
}
