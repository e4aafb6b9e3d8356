//! Giving a branch another name or time zone. What has been written under the old name stays as it was written.

use super::add_branch::{BranchKept, about_branch, is_taken, known_zone, or_taken};
use super::{ActionError, Deeds};
use crate::domain::people::BranchName;
use crate::store::{BranchId, PersonId, branches, record, write};
use serde_json::json;

/// Changes a branch; nothing is entered when nothing is different.
///
/// # Errors
/// [`crate::store::StoreError::NotFound`] when there is no such branch, or when the store does not answer.
pub async fn change_branch(
    deeds: &Deeds,
    by: PersonId,
    id: BranchId,
    name: &BranchName,
    time_zone: &str,
) -> Result<BranchKept, ActionError> {
    let Some(time_zone) = known_zone(time_zone) else { return Ok(BranchKept::NoSuchTimeZone) };
    let now = deeds.clock.now();
    let changed = write(&deeds.db, async |tx| {
        let before = branches::locked(tx, id).await?;
        if is_taken(tx, name, Some(id)).await? {
            return Ok(BranchKept::NameTaken);
        }
        if before.name == name.as_str() && before.time_zone == time_zone {
            return Ok(BranchKept::Kept(id));
        }
        branches::change(tx, id, name.as_str(), &time_zone).await?;
        let detail = json!({
            "name": { "from": before.name, "to": name.as_str() },
            "time_zone": { "from": before.time_zone, "to": time_zone },
        });
        record::append(tx, about_branch(now, by, "branch_changed", id, detail)).await?;
        Ok(BranchKept::Kept(id))
    });
    or_taken(changed.await)
}
