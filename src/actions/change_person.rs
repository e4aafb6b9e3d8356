//! Changing what a person is here, where they belong, and whether they may sign in.
//!
//! Never deletes anybody: what they did stays on record under their name.

use super::on_record::about_person_with;
use super::{ActionError, Deeds};
use crate::domain::people::{Permission, Role, allows};
use crate::store::{BranchId, PersonId, StoreError, branches, people, record, sessions, write};
use serde_json::json;
use std::collections::BTreeSet;

/// What a person is to be from now on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// Their role.
    pub role: Role,
    /// Their branch.
    pub branch: BranchId,
    /// Whether they may sign in.
    pub active: bool,
}

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum PersonChange {
    /// Done, or nothing was different.
    Changed,
    /// Nobody changes their own role or suspends themselves: somebody must be left who can undo it.
    OwnStanding,
    /// There is no such branch.
    NoSuchBranch,
    /// There is no such person, or none any more for who asks: they may not change people since a moment ago.
    NoSuchPerson,
}

/// Gives a person a new standing. When the role or the permission to sign in changes, their sessions end.
///
/// # Errors
/// When the store does not answer.
pub async fn change_person(
    deeds: &Deeds,
    by: PersonId,
    person: PersonId,
    to: Standing,
) -> Result<PersonChange, ActionError> {
    let now = deeds.clock.now();
    let changed = write(&deeds.db, async |tx| {
        // Both, and in the order of their numbers: of two who take each other's role away the second no longer has the right to,
        // and they do not wait for each other for ever.
        for one in BTreeSet::from([by, person]) {
            people::in_turn(tx, one).await?;
        }
        let asks = people::by_id(tx, by).await?;
        if !asks.active || !allows(asks.role, Permission::ChangePeople) {
            return Ok(PersonChange::NoSuchPerson);
        }
        let from = people::by_id(tx, person).await?;
        if !branches::list(tx).await?.iter().any(|branch| branch.id == to.branch) {
            return Ok(PersonChange::NoSuchBranch);
        }
        let other_powers = from.role != to.role || from.active != to.active;
        if other_powers && person == by {
            return Ok(PersonChange::OwnStanding);
        }
        if !other_powers && from.branch_id == to.branch {
            return Ok(PersonChange::Changed);
        }
        people::set_role(tx, person, to.role).await?;
        people::set_branch(tx, person, to.branch).await?;
        people::set_active(tx, person, to.active).await?;
        if other_powers {
            sessions::delete_all_for_person(tx, person).await?;
        }
        let detail = json!({
            "role": { "from": from.role.id(), "to": to.role.id() },
            "branch": { "from": from.branch_id, "to": to.branch },
            "active": { "from": from.active, "to": to.active },
        });
        record::append(tx, about_person_with(now, Some(by), "person_changed", person, detail)).await?;
        Ok::<_, ActionError>(PersonChange::Changed)
    });
    match changed.await {
        Err(ActionError::Store(StoreError::NotFound)) => Ok(PersonChange::NoSuchPerson),
        done => done,
    }
}
