//! What was assigned and withdrawn, and who was named as whose trainer, held against the entries that tell of it.

use super::{RecordChecked, detail};
use crate::store::assignments::{self, ToWhom};
use crate::store::record::{self, RecordEntry};
use crate::store::{PersonId, RecordEntryId, StoreError, named_trainers};
use sea_orm::ConnectionTrait;
use serde_json::json;
use std::collections::BTreeMap;

/// Entries by their number; what has found its row is taken out.
type Entries = BTreeMap<RecordEntryId, RecordEntry>;

/// Checks them.
pub(super) async fn check_assignments(db: &impl ConnectionTrait, found: &mut RecordChecked) -> Result<(), StoreError> {
    let mut entries = Entries::new();
    for kind in ["person", "branch", "role"] {
        let of_kind = record::of_kind(db, kind).await?.into_iter();
        entries.extend(of_kind.filter(|entry| TOLD.contains(&entry.deed.as_str())).map(|entry| (entry.id, entry)));
    }
    for of in assignments::all(db).await? {
        let about = format!("assignment {}", of.id);
        let entry = entries.remove(&of.entry.record_entry_id);
        let same = entry.is_some_and(|entry| {
            let says = detail(&entry);
            entry.deed == "assigned"
                && is_about(&entry, of.entry.to)
                && entry.at == of.entry.made_at
                && entry.actor_id == Some(of.entry.made_by)
                && says["kind"] == json!(of.entry.kind)
                && says["thing"] == of.entry.thing_key.as_str()
                && says["due"] == of.entry.due_day.as_str()
        });
        if !same {
            found.fault(about.clone(), "it is not what was put on record");
        }
        if let Some(withdrawn) = &of.withdrawn {
            let entry = entries.remove(&withdrawn.record_entry_id);
            let same = entry.is_some_and(|entry| {
                entry.deed == "assignment_withdrawn"
                    && entry.at == withdrawn.at
                    && entry.actor_id == Some(withdrawn.by)
                    && detail(&entry)["reason"] == withdrawn.reason.as_str()
                    && detail(&entry)["assigned_by_entry"] == json!(of.entry.record_entry_id)
            });
            if !same {
                found.fault(about, "its withdrawal is not what was put on record");
            }
        }
    }
    check_trainers(db, &mut entries, found).await?;
    for entry in entries.values() {
        found.fault(format!("record entry {}", entry.id), format!("\"{}\" is on record, and is not there", entry.deed));
    }
    Ok(())
}

const TOLD: [&str; 3] = ["assigned", "assignment_withdrawn", "trainer_named"];

fn is_about(entry: &RecordEntry, to: ToWhom) -> bool {
    match to {
        ToWhom::Person(person) => entry.subject_kind == "person" && entry.subject_id == Some(person.0),
        ToWhom::Branch(branch) => entry.subject_kind == "branch" && entry.subject_id == Some(branch.0),
        ToWhom::Role(role) => entry.subject_kind == "role" && detail(entry)["role"] == role.id(),
    }
}

async fn check_trainers(
    db: &impl ConnectionTrait,
    entries: &mut Entries,
    found: &mut RecordChecked,
) -> Result<(), StoreError> {
    for named in named_trainers::all(db).await? {
        let entry = entries.remove(&named.record_entry_id);
        let same = entry.is_some_and(|entry| {
            entry.deed == "trainer_named"
                && entry.subject_id.map(PersonId) == Some(named.person_id)
                && entry.at == named.named_at
                && entry.actor_id == Some(named.named_by)
                && detail(&entry)["to"] == json!(named.trainer_id)
        });
        if !same {
            found.fault(format!("person {}", named.person_id), "the naming of a trainer is not what was put on record");
        }
    }
    Ok(())
}
