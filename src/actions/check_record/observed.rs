//! Observations, their steps and what both signed, held against the entries that tell of them.

use super::{RecordChecked, detail, of_deed};
use crate::actions::load_bank::sha256;
use crate::store::observations::{self, KeptStep, Observation, Signed, digest_of, in_order};
use crate::store::record::{self, RecordEntry};
use crate::store::{PersonId, StoreError};
use sea_orm::ConnectionTrait;
use serde_json::json;
use std::collections::BTreeMap;

/// Checks them.
pub(super) async fn check_observations(db: &impl ConnectionTrait, found: &mut RecordChecked) -> Result<(), StoreError> {
    let mut entries: BTreeMap<i64, Vec<RecordEntry>> = BTreeMap::new();
    for entry in record::of_kind(db, "observation").await? {
        entries.entry(entry.subject_id.unwrap_or_default()).or_default().push(entry);
    }
    for of in observations::all(db).await? {
        let about = entries.remove(&of.id.0).unwrap_or_default();
        let steps = observations::steps(db, of.id).await?;
        let mut says: Vec<&str> = Vec::new();
        if !opened_as_on_record(&of, &about) {
            says.push("it is not what was put on record when it was opened");
        }
        match observations::find_signed(db, of.id).await {
            Ok(signed) => says.extend(differs(&of, &steps, signed.as_ref(), &about)),
            Err(StoreError::Corrupt(_)) => says.push("its result does not read back"),
            Err(error) => return Err(error),
        }
        says.into_iter().for_each(|says| found.fault(format!("observation {}", of.id), says));
    }
    for (id, about) in entries {
        if !of_deed(&about, "observation_opened").is_empty() || !of_deed(&about, "observation_signed").is_empty() {
            found.fault(format!("observation {id}"), "it is on record, and is not there");
        }
    }
    Ok(())
}

fn opened_as_on_record(of: &Observation, about: &[RecordEntry]) -> bool {
    let [entry] = of_deed(about, "observation_opened")[..] else { return false };
    let says = detail(entry);
    entry.at == of.opened_at
        && entry.actor_id == Some(of.assessor_id)
        && says["person"].as_i64().map(PersonId) == Some(of.person_id)
        && says["task"] == of.task.id()
        && says["machine"] == of.machine_key.as_str()
        && says["machine_version"] == of.machine_version
        && says["branch"] == json!(of.branch_id)
        && says["sha256"] == sha256(&of.checklist).as_str()
}

/// What is wrong with the signing.
fn differs(
    of: &Observation,
    steps: &[KeptStep],
    signed: Option<&Signed>,
    about: &[RecordEntry],
) -> Option<&'static str> {
    let on_record = of_deed(about, "observation_signed");
    let (signed, entry) = match (signed, &on_record[..]) {
        (None, []) => return None,
        (None, _) => return Some("it is on record as signed, and is open"),
        (Some(signed), [entry]) => (signed, *entry),
        (Some(_), _) => return Some("its signing is not on record once"),
    };
    let says = detail(entry);
    let making = says["making"].as_i64().unwrap_or_default();
    let bound = digest_of(making, of, steps, &signed.outcome, signed.signed_at)
        .is_some_and(|digest| says["sha256"] == digest.as_str());
    let same = entry.id == signed.record_entry_id
        && entry.at == signed.signed_at
        && entry.actor_id == Some(of.assessor_id)
        && says["passed"] == signed.outcome.passed;
    if !bound || !same {
        return Some("its steps or its result are not those that were put on record when it was signed");
    }
    let again = of.list().ok().and_then(|list| list.outcome(&in_order(&list, steps)));
    (again.as_ref() != Some(&signed.outcome)).then_some("its steps do not come to its result")
}
