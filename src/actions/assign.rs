//! Telling a person, a branch or a role what to do by a day.

use super::on_record::about_assignment;
use super::{ActionError, Deeds};
use crate::domain::certification::assignment::Kind;
use crate::store::assignments::{self, NewAssignment, ToWhom};
use crate::store::{AssignmentId, PersonId, StoreError, branches, conflict, people, record, write};
use serde_json::json;

/// What is to be done, by whom, by when.
#[derive(Clone, Debug)]
pub struct ToDo<'t> {
    /// Who is to do it.
    pub to: ToWhom,
    /// What kind of thing.
    pub kind: Kind,
    /// The scheme or the module; the caller knows that the bank has it.
    pub thing_key: &'t str,
    /// The last day for it, as `2026-12-01`.
    pub due_day: &'t str,
    /// What the form carried: the same again is the same click.
    pub key: &'t str,
}

/// Assigns it. Gives the number of the assignment; nothing when the same click has assigned it already.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person or branch, or when the store does not answer.
pub async fn assign(deeds: &Deeds, by: PersonId, of: ToDo<'_>) -> Result<Option<AssignmentId>, ActionError> {
    let now = deeds.clock.now();
    let assigned = write(&deeds.db, async |tx| {
        match of.to {
            ToWhom::Person(person) => drop(people::by_id(tx, person).await?),
            ToWhom::Branch(branch) => drop(branches::by_id(tx, branch).await?),
            ToWhom::Role(_) => {}
        }
        let detail = json!({ "kind": of.kind, "thing": of.thing_key, "due": of.due_day });
        let entry = record::append(tx, about_assignment(now, by, "assigned", of.to, detail)).await?;
        let new = NewAssignment {
            to: of.to,
            kind: of.kind,
            thing_key: of.thing_key.to_owned(),
            due_day: of.due_day.to_owned(),
            made_by: by,
            made_at: now,
            key: of.key.to_owned(),
            record_entry_id: entry,
        };
        Ok::<_, ActionError>(Some(assignments::append(tx, new).await?))
    });
    match assigned.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::ASSIGNMENT => Ok(None),
        other => other,
    }
}
