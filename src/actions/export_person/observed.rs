//! The practical tasks in which a person was watched, and those that they watched.

use super::utc;
use crate::store::observations::{self, Signed};
use crate::store::{PersonId, StoreError};
use sea_orm::ConnectionTrait;
use serde_json::{Value, json};

/// Oldest first, each step with how it was marked.
pub(super) async fn watched(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Value>, StoreError> {
    let mut all = Vec::new();
    for of in observations::of_person(db, person).await? {
        let kept = observations::steps(db, of.id).await?;
        let steps = (1..).zip(of.list()?.steps).map(|(position, step)| {
            let marked = kept.iter().find(|kept| kept.position == position);
            json!({
                "step": step.id,
                "action": step.action,
                "critical": step.critical,
                "mark": marked.map(|kept| kept.marked.mark),
                "remark": marked.map(|kept| kept.marked.remark.as_str()),
                "at": marked.map(|kept| utc(kept.saved_at)),
            })
        });
        all.push(json!({
            "number": of.id,
            "task": of.task,
            "machine": of.machine_key,
            "machine_version": of.machine_version,
            "watched_by": of.assessor_id,
            "opened": utc(of.opened_at),
            "steps": steps.collect::<Vec<_>>(),
            "signed": observations::find_signed(db, of.id).await?.as_ref().map(signed),
        }));
    }
    Ok(all)
}

/// Which tasks the person watched; whom, by number, and what came of it is the others' own.
pub(super) async fn others(db: &impl ConnectionTrait, assessor: PersonId) -> Result<Vec<Value>, StoreError> {
    let all = observations::by_assessor(db, assessor).await?;
    let told = all
        .iter()
        .map(|of| json!({ "number": of.id, "task": of.task, "machine": of.machine_key, "opened": utc(of.opened_at) }));
    Ok(told.collect())
}

fn signed(of: &Signed) -> Value {
    json!({ "at": utc(of.signed_at), "outcome": of.outcome, "record_entry": of.record_entry_id })
}
