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
use crate::actions::refused_access::refuse_stranger;
use crate::domain::scenario::Question;
use crate::store::attempts::{self, Attempt, AttemptKind, AttemptQuestion};
use crate::store::{AttemptId, PersonId};
use crate::web::App;
use crate::web::error::PageError;

/// A person's own examination; anything else is not there.
async fn own_examination(app: &App, person: PersonId, id: &str) -> Result<Attempt, PageError> {
    let id: AttemptId = id.parse().map_err(|_| PageError::NotFound)?;
    let attempt = attempts::by_id(&app.deeds.db, person, id).await?;
    if attempt.kind == AttemptKind::Examination { Ok(attempt) } else { Err(PageError::NotFound) }
}

/// A question of a person's own examination; anything else is not there.
async fn own_question(
    app: &App,
    person: PersonId,
    id: &str,
    position: i32,
) -> Result<(Attempt, AttemptQuestion), PageError> {
    let id: AttemptId = id.parse().map_err(|_| PageError::NotFound)?;
    let (attempt, asked) = attempts::asked_of(&app.deeds.db, person, id, position).await?;
    if attempt.kind == AttemptKind::Examination { Ok((attempt, asked)) } else { Err(PageError::NotFound) }
}

/// That something was sent to a sitting of another's is on record; whoever sent it finds nothing there.
async fn no_stranger<T>(app: &App, person: PersonId, id: &str, found: Result<T, PageError>) -> Result<T, PageError> {
    if let (Err(PageError::NotFound), Ok(attempt)) = (&found, id.parse()) {
        refuse_stranger(&app.deeds, person, attempt).await?;
    }
    found
}

fn thawed(asked: &AttemptQuestion) -> Result<Question, PageError> {
    Ok(read_question(asked)?)
}

/// A scheme's title; its key when the bank no longer has it.
fn title_of(app: &App, attempt: &Attempt) -> String {
    let key = attempt.scheme_key.as_deref().unwrap_or_default();
    let read = app.deeds.bank.now();
    read.bank.scheme(key).map_or_else(|| key.to_owned(), |entry| entry.scheme.title.clone())
}
