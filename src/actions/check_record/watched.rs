//! Holding incidents, sittings that whoever watched ended, and more time against the record.

use super::{Fault, RecordChecked, detail, of_deed};
use crate::actions::regrade::Rows;
use crate::actions::set_extra_time::digest;
use crate::store::incidents::{self, Incident, IncidentKind};
use crate::store::record::{self, RecordEntry};
use crate::store::{RecordEntryId, StoreError, extra_times};
use sea_orm::ConnectionTrait;
use std::collections::{BTreeMap, BTreeSet};

const fn deed_of(kind: IncidentKind) -> &'static str {
    match kind {
        IncidentKind::Noted => "incident_noted",
        IncidentKind::Ended => "sitting_ended",
    }
}

/// Where an attempt's terms differ from what its entries say, in words.
pub(super) fn differences(rows: &Rows, about: &[RecordEntry]) -> Vec<String> {
    let mut says = Vec::new();
    let attempt = &rows.attempt;
    if let [begun] = of_deed(about, "examination_begun").as_slice() {
        let on_record = detail(begun).get("invigilation").and_then(serde_json::Value::as_i64);
        if on_record != attempt.invigilation_id.map(|id| id.0) {
            says.push("it did not begin under the eyes that the record says".to_owned());
        }
    }
    let ended = of_deed(about, "sitting_ended");
    let by = ended.first().and_then(|entry| entry.actor_id);
    if ended.len() > 1 || by != attempt.ended_by {
        says.push("the record tells otherwise who ended it".to_owned());
    }
    says
}

pub(super) async fn check_incidents(
    db: &impl ConnectionTrait,
    entries: &BTreeMap<i64, Vec<RecordEntry>>,
    found: &mut RecordChecked,
) -> Result<(), StoreError> {
    let mut kept: BTreeSet<RecordEntryId> = BTreeSet::new();
    for incident in incidents::all(db).await? {
        let about = entries.get(&incident.attempt_id.0).map(Vec::as_slice).unwrap_or_default();
        let entry = about.iter().find(|entry| entry.id == incident.record_entry_id);
        if !kept.insert(incident.record_entry_id) || !entry.is_some_and(|entry| tells(entry, &incident)) {
            let says = "what was written down in it is not what was put on record".to_owned();
            found.faults.push(Fault { about: format!("attempt {}", incident.attempt_id), says });
        }
    }
    for (attempt, about) in entries {
        let deeds = [IncidentKind::Noted, IncidentKind::Ended].map(deed_of);
        let lost = about.iter().filter(|entry| deeds.contains(&entry.deed.as_str()) && !kept.contains(&entry.id));
        for _ in lost {
            let says = "something written down in it is on record, and is not there".to_owned();
            found.faults.push(Fault { about: format!("attempt {attempt}"), says });
        }
    }
    Ok(())
}

fn tells(entry: &RecordEntry, incident: &Incident) -> bool {
    entry.deed == deed_of(incident.kind)
        && entry.at == incident.noted_at
        && entry.actor_id == Some(incident.noted_by)
        && detail(entry)["text"] == incident.text.as_str()
}

/// A reason that was blanked is compared no more; who set something for whom and when still is.
pub(super) async fn check_extra_times(db: &impl ConnectionTrait, found: &mut RecordChecked) -> Result<(), StoreError> {
    let set = record::of_kind(db, "person").await?.into_iter().filter(|entry| entry.deed == "extra_time_set");
    let mut on_record: BTreeMap<RecordEntryId, RecordEntry> = set.map(|entry| (entry.id, entry)).collect();
    for one in extra_times::all(db).await? {
        let bound = on_record.remove(&one.record_entry_id).is_some_and(|entry| {
            let sha256 = digest(&one.salt, one.extra, &one.reason);
            entry.at == one.set_at
                && entry.actor_id == Some(one.set_by)
                && entry.subject_id == Some(one.person_id.0)
                && (one.reason.is_empty() || detail(&entry)["sha256"] == sha256.as_str())
        });
        if !bound {
            let says = "the time set for examinations is not what was put on record".to_owned();
            found.faults.push(Fault { about: format!("person {}", one.person_id), says });
        }
    }
    for entry in on_record.values() {
        let about = format!("person {}", entry.subject_id.unwrap_or_default());
        found.faults.push(Fault { about, says: "time set for examinations is on record, and is not there".to_owned() });
    }
    Ok(())
}
