//! Somebody looked up a certificate that is not valid: that is put on record, once a day for each certificate.
//!
//! Never on record: who it was, which nobody knows. More entries than one a day would let a stranger fill the record.

use super::on_record::about_person_with;
use super::{ActionError, Deeds};
use crate::domain::certification::certificate::State;
use crate::store::certificates::Certificate;
use crate::store::{record, write};

/// The deed's word in the record.
const DEED: &str = "invalid_certificate_checked";
const DAY_US: i64 = 86_400 * 1_000_000;

/// Puts it on record that a certificate in this state was looked up, unless that is on record today (UTC).
///
/// # Errors
/// When the store does not answer.
pub async fn note_check(deeds: &Deeds, of: &Certificate, state: State) -> Result<(), ActionError> {
    let now = deeds.clock.now();
    let holder = of.entry.person_id;
    let number = of.number.to_string();
    let today = now.0.div_euclid(DAY_US);
    let before = record::of_subject(&deeds.db, "person", holder.0).await?;
    let noted = before
        .iter()
        .rev()
        .any(|entry| entry.deed == DEED && entry.at.0.div_euclid(DAY_US) == today && entry.detail.contains(&number));
    if noted {
        return Ok(());
    }
    let detail = serde_json::json!({ "certificate": number, "state": state.word() });
    write(&deeds.db, async |tx| {
        record::append(tx, about_person_with(now, None, DEED, holder, detail.clone())).await?;
        Ok(())
    })
    .await
}
