//! Setting how much more time somebody gets in examinations; it counts from the next sitting that begins.
//!
//! Never puts the amount or the reason on record in clear: the record holds a salted SHA-256 of both, so that nobody can change
//! them quietly and nobody can read them there.

use super::on_record::about_person_with;
use super::{ActionError, Deeds, Token};
use crate::domain::examination::extra_time::ExtraTime;
use crate::domain::people::Role;
use crate::store::extra_times::{self, NewExtraTime};
use crate::store::{BranchId, PersonId, StoreError, conflict, people, record, write};
use sha2::{Digest as _, Sha256};

/// Who sets it, as the page knows them.
#[derive(Clone, Copy, Debug)]
pub struct Setter {
    /// Who.
    pub person: PersonId,
    /// Their role.
    pub role: Role,
    /// Their branch.
    pub branch: BranchId,
}

impl Setter {
    /// Whether they may set it for somebody of a branch, and read why it was set: an administrator everywhere, a service manager
    /// in their own branch.
    #[must_use]
    pub fn may_for(self, branch: BranchId) -> bool {
        self.role == Role::Administrator || (self.role == Role::ServiceManager && self.branch == branch)
    }
}

/// What comes of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ExtraTimeSet {
    /// It is set, now or by the same click before.
    Done,
    /// Nobody sets it for themselves.
    Oneself,
}

/// Sets it.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person for the setter, or when the store does not answer.
pub async fn set_extra_time(
    deeds: &Deeds,
    by: Setter,
    person: PersonId,
    extra: ExtraTime,
    reason: &str,
    key: &str,
) -> Result<ExtraTimeSet, ActionError> {
    if person == by.person {
        return Ok(ExtraTimeSet::Oneself);
    }
    let now = deeds.clock.now();
    let salt = Token::fresh()?.as_str().to_owned();
    let set = write(&deeds.db, async |tx| {
        if !by.may_for(people::by_id(tx, person).await?.branch_id) {
            return Err(ActionError::from(StoreError::NotFound));
        }
        let detail = serde_json::json!({ "sha256": digest(&salt, extra, reason) });
        let entry =
            record::append(tx, about_person_with(now, Some(by.person), "extra_time_set", person, detail)).await?;
        let new = NewExtraTime {
            person_id: person,
            extra,
            reason: reason.to_owned(),
            salt: salt.clone(),
            set_by: by.person,
            set_at: now,
            key: key.to_owned(),
            record_entry_id: entry,
        };
        extra_times::append(tx, new).await?;
        Ok(ExtraTimeSet::Done)
    });
    match set.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::EXTRA_TIME => Ok(ExtraTimeSet::Done),
        other => other,
    }
}

/// What the record holds in place of amount and reason: SHA-256 in hexadecimal. The salt has a fixed length.
pub(super) fn digest(salt: &str, extra: ExtraTime, reason: &str) -> String {
    let (percent, minutes) = extra.numbers();
    let hashed = Sha256::new()
        .chain_update(salt)
        .chain_update(percent.to_be_bytes())
        .chain_update(minutes.to_be_bytes())
        .chain_update(reason)
        .finalize();
    hashed.iter().map(|byte| format!("{byte:02x}")).collect()
}
