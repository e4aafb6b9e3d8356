//! Ending sessions of one's own: one, or all but the one that asks.

use super::on_record::about_person;
use super::{ActionError, Deeds};
use crate::store::{PersonId, StoreError, people, record, sessions, write};

/// Which.
#[derive(Clone, Copy, Debug)]
pub enum Which<'w> {
    /// The one of this hash.
    One(&'w str),
    /// All but the one of this hash.
    AllBut(&'w str),
}

/// Ends them; gives how many there were.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such session, or when the store does not answer.
pub async fn end_sessions(deeds: &Deeds, person: PersonId, which: Which<'_>) -> Result<usize, ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        people::in_turn(tx, person).await?;
        let own = sessions::of_person(tx, person).await?;
        let meant = |hash: &str| match which {
            Which::One(one) => hash == one,
            Which::AllBut(one) => hash != one,
        };
        let ended: Vec<_> = own.iter().filter(|session| meant(&session.token_hash)).collect();
        if ended.is_empty() && matches!(which, Which::One(_)) {
            return Err(StoreError::NotFound.into());
        }
        for session in &ended {
            sessions::delete(tx, &session.token_hash).await?;
        }
        if !ended.is_empty() {
            record::append(tx, about_person(now, Some(person), "sessions_ended", person)).await?;
        }
        Ok(ended.len())
    })
    .await
}
