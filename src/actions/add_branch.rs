//! Adding a branch, and what every change of one asks first.

use super::{ActionError, Deeds};
use crate::domain::people::BranchName;
use crate::domain::units::Moment;
use crate::store::{BranchId, PersonId, StoreError, branches, conflict, record, write};
use jiff::tz::TimeZone;
use sea_orm::ConnectionTrait;
use serde_json::json;

/// What comes of adding or changing a branch.
#[derive(Debug, PartialEq, Eq)]
pub enum BranchKept {
    /// It is so now.
    Kept(BranchId),
    /// Another branch has this name, perhaps in other capitals.
    NameTaken,
    /// There is no such time zone.
    NoSuchTimeZone,
}

/// Adds a branch with the time zone in which its people read dates.
///
/// # Errors
/// When the store does not answer.
pub async fn add_branch(
    deeds: &Deeds,
    by: PersonId,
    name: &BranchName,
    time_zone: &str,
) -> Result<BranchKept, ActionError> {
    let Some(time_zone) = known_zone(time_zone) else { return Ok(BranchKept::NoSuchTimeZone) };
    let now = deeds.clock.now();
    let added = write(&deeds.db, async |tx| {
        if let Some(there) = named_just_so(tx, name, &time_zone).await? {
            return Ok(BranchKept::Kept(there));
        }
        if is_taken(tx, name, None).await? {
            return Ok(BranchKept::NameTaken);
        }
        let id = branches::insert(tx, name.as_str(), &time_zone).await?;
        let detail = json!({ "name": name.as_str(), "time_zone": time_zone });
        record::append(tx, about_branch(now, by, "branch_added", id, detail)).await?;
        Ok(BranchKept::Kept(id))
    });
    match or_taken(added.await)? {
        // Two at the same moment: the second finds what the first added.
        BranchKept::NameTaken => {
            let there = named_just_so(&deeds.db, name, &time_zone).await?;
            Ok(there.map_or(BranchKept::NameTaken, BranchKept::Kept))
        }
        kept => Ok(kept),
    }
}

/// The branch that has this very name and time zone already: adding it once more adds nothing.
async fn named_just_so(
    db: &impl ConnectionTrait,
    name: &BranchName,
    time_zone: &str,
) -> Result<Option<BranchId>, StoreError> {
    let there = branches::find_by_name(db, name.as_str()).await?;
    Ok(there.filter(|branch| branch.name == name.as_str() && branch.time_zone == time_zone).map(|branch| branch.id))
}

/// The time zone as the tables write it; nothing when there is none of this name.
pub(super) fn known_zone(typed: &str) -> Option<String> {
    let zone = TimeZone::get(typed.trim()).ok().filter(|zone| !zone.is_unknown())?;
    zone.iana_name().map(str::to_owned)
}

/// Whether a branch other than `own` has the name already.
pub(super) async fn is_taken(
    tx: &impl ConnectionTrait,
    name: &BranchName,
    own: Option<BranchId>,
) -> Result<bool, StoreError> {
    let all = branches::list(tx).await?;
    Ok(all.iter().any(|branch| Some(branch.id) != own && branch.name.to_lowercase() == name.folded()))
}

/// Two who add the same name at the same moment: the database lets one through.
pub(super) fn or_taken(done: Result<BranchKept, ActionError>) -> Result<BranchKept, ActionError> {
    match done {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::BRANCH_NAME => {
            Ok(BranchKept::NameTaken)
        }
        done => done,
    }
}

/// An entry of the record about a branch.
pub(super) fn about_branch(
    at: Moment,
    by: PersonId,
    deed: &str,
    branch: BranchId,
    detail: serde_json::Value,
) -> record::NewEntry {
    record::NewEntry {
        at,
        actor_id: Some(by),
        deed: deed.to_owned(),
        subject_kind: "branch".to_owned(),
        subject_id: Some(branch.0),
        detail,
    }
}
