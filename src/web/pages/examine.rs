//! `/examine`: what one can be examined in, sitting an examination, handing it in, its result.

mod list;
mod result;
mod review;
mod sitting;

pub use list::{begin, show as list};
pub use result::show as result;
pub use review::{review, submit};
pub use sitting::{flag, question, save};

use crate::actions::read_question;
use crate::actions::refused_access::{note_made_up_fields, refuse_stranger};
use crate::domain::scenario::Question;
use crate::store::attempts::{self, AtPlace, Attempt, AttemptKind, AttemptQuestion};
use crate::store::{AttemptId, PersonId};
use crate::web::App;
use crate::web::error::PageError;
use crate::web::form::Fields;

/// A person's own examination; anything else is not there.
async fn own_examination(app: &App, person: PersonId, id: &str) -> Result<Attempt, PageError> {
    let id: AttemptId = id.parse().map_err(|_| PageError::NotFound)?;
    let attempt = attempts::by_id(&app.deeds.db, person, id).await?;
    if attempt.kind == AttemptKind::Examination { Ok(attempt) } else { Err(PageError::NotFound) }
}

/// A person's own examination at one of its questions; anything else is not there.
async fn own_question(app: &App, person: PersonId, id: &str, position: i32) -> Result<AtPlace, PageError> {
    let id: AttemptId = id.parse().map_err(|_| PageError::NotFound)?;
    let at = attempts::at_place(&app.deeds.db, person, id, position).await?;
    if at.attempt.kind == AttemptKind::Examination { Ok(at) } else { Err(PageError::NotFound) }
}

/// That something was sent to a sitting of another's is on record; whoever sent it finds nothing there.
async fn no_stranger<T>(app: &App, person: PersonId, id: &str, found: Result<T, PageError>) -> Result<T, PageError> {
    if let (Err(PageError::NotFound), Ok(attempt)) = (&found, id.parse()) {
        refuse_stranger(&app.deeds, person, attempt).await?;
    }
    found
}

/// That fields came which no page here has is on record; nothing is read from them, least of all a time.
async fn note_made_up(app: &App, attempt: &Attempt, fields: &Fields) -> Result<(), PageError> {
    let ours = |name: &str| FIELDS.contains(&name) || name.starts_with("place_");
    if fields.every().any(|(name, _)| !ours(name)) {
        note_made_up_fields(&app.deeds, attempt.person_id, attempt.id).await?;
    }
    Ok(())
}

/// What the forms of a sitting send, beside a place for each option.
const FIELDS: [&str; 6] = ["form_token", "choice", "number", "place", "flag", "submit_key"];

fn thawed(asked: &AttemptQuestion) -> Result<Question, PageError> {
    Ok(read_question(asked)?)
}

/// A scheme's title; its key when the bank no longer has it.
fn title_of(app: &App, attempt: &Attempt) -> String {
    let key = attempt.scheme_key.as_deref().unwrap_or_default();
    let read = app.deeds.bank.now();
    read.bank.scheme(key).map_or_else(|| key.to_owned(), |entry| entry.scheme.title.clone())
}
