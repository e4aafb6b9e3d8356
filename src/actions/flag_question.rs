//! Flagging a question of an examination for later, or taking the flag off. No answer, and nothing that counts.

use super::close_overdue::close_when_over;
use super::{ActionError, Deeds};
use crate::store::attempts::{self, AttemptKind};
use crate::store::{AttemptId, PersonId, StoreError, write};

/// Sets or takes off the flag of a question of a person's own open examination; says whether it was still open. To whom it is
/// too late, the examination is closed on the way.
///
/// # Errors
/// [`StoreError::NotFound`] when the person has no such examination question, or when the store does not answer.
pub async fn flag_question(
    deeds: &Deeds,
    person: PersonId,
    attempt: AttemptId,
    position: i32,
    flagged: bool,
) -> Result<bool, ActionError> {
    let now = deeds.clock.now();
    let (own, _) = attempts::asked_of(&deeds.db, person, attempt, position).await?;
    if own.kind != AttemptKind::Examination {
        return Err(StoreError::NotFound.into());
    }
    let set = async |tx: &_| attempts::set_flag(tx, person, attempt, position, flagged, now).await;
    let open = write::<_, StoreError, _>(&deeds.db, set).await?;
    if !open {
        close_when_over(deeds, &attempts::by_id(&deeds.db, person, attempt).await?, now).await?;
    }
    Ok(open)
}
