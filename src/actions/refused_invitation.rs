//! Somebody came with an invitation that is over: that is on record, once a day for each person invited.
//!
//! Never on record: who came, which nobody knows, and a link that was never one.

use super::on_record::about_person;
use super::{ActionError, Deeds, Token};
use crate::store::{invitations, record, write};

const DEED: &str = "invitation_refused";
const DAY_US: i64 = 86_400 * 1_000_000;

/// Puts it on record, unless it is there today (UTC) or the link is none.
///
/// # Errors
/// When the store does not answer.
pub async fn note_refused_invitation(deeds: &Deeds, token: &Token) -> Result<(), ActionError> {
    let now = deeds.clock.now();
    let Some(person) = invitations::find_person(&deeds.db, &token.hash()).await? else { return Ok(()) };
    let today = now.0.div_euclid(DAY_US);
    write(&deeds.db, async |tx| {
        let before = record::of_subject(tx, "person", person.0).await?;
        if !before.iter().any(|entry| entry.deed == DEED && entry.at.0.div_euclid(DAY_US) == today) {
            record::append(tx, about_person(now, None, DEED, person)).await?;
        }
        Ok(())
    })
    .await
}
