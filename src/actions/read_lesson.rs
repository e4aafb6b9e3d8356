//! Having read a lesson.

use super::{ActionError, Deeds};
use crate::store::{PersonId, progress, write};

/// Notes that a person has read a lesson. Noting it twice changes nothing. Whether the lesson is in the bank is checked
/// here: nothing else can be read.
///
/// # Errors
/// When the store does not answer.
pub async fn read_lesson(deeds: &Deeds, person: PersonId, module: &str, lesson: &str) -> Result<bool, ActionError> {
    let read = deeds.bank.now();
    let known = read.bank.module(module).is_some_and(|module| module.lessons.iter().any(|known| known.id == lesson));
    if known {
        let now = deeds.clock.now();
        write::<_, ActionError, _>(&deeds.db, async |tx| {
            Ok(progress::mark_read(tx, person, module, lesson, now).await?)
        })
        .await?;
    }
    Ok(known)
}
