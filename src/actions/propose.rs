//! Working a proposal out: what the scheme's rules say about a graded sitting and what the person brings beside it.

use super::conclude::{months_later, scheme_of};
use super::{ActionError, on_record::about_person_with};
use crate::domain::bank::Bank;
use crate::domain::certification::proposal::{Brought, propose};
use crate::domain::certification::trigger::MachineVersion;
use crate::domain::examination::outcome::Outcome;
use crate::domain::examination::scheme::Scheme;
use crate::domain::units::Moment;
use crate::store::attempts::{self, Attempt};
use crate::store::proposals::{self, KeptProposal, NewProposal};
use crate::store::qualifications::{self, QualificationOutcome};
use crate::store::read::certification;
use crate::store::read::trained::practical_seen;
use crate::store::{PersonId, RecordEntryId, StoreError, record};
use sea_orm::ConnectionTrait;
use std::collections::{BTreeMap, BTreeSet};

/// What the rules propose now about a graded sitting. The entry of the record is the caller's to fill in.
pub(super) async fn proposal_about(
    tx: &impl ConnectionTrait,
    bank: &Bank,
    scheme: &Scheme,
    attempt: &Attempt,
    outcome: &Outcome,
    examined_at: Moment,
    now: Moment,
) -> Result<NewProposal, ActionError> {
    let brought = Brought {
        schemes: certification::of_person(tx, attempt.person_id).await?.schemes_held(now),
        practical: practical_seen(tx, attempt.person_id).await?,
        missed_since: missed_since(tx, attempt.person_id, examined_at).await?,
    };
    Ok(NewProposal {
        attempt_id: attempt.id,
        person_id: attempt.person_id,
        scheme_key: scheme.id.clone(),
        scheme_version: attempt.scheme_version.unwrap_or_default(),
        proposal: propose(scheme, outcome, &brought),
        competences: scheme.parts.iter().map(|part| part.competence.clone()).collect(),
        machines: machines(tx, bank, scheme, attempt).await?,
        examined_at,
        valid_until: months_later(examined_at, scheme.valid_for_months)?,
        made_at: now,
        record_entry_id: RecordEntryId(0),
    })
}

/// The same for a sitting that was graded some time ago.
pub(super) async fn proposal_again(
    tx: &impl ConnectionTrait,
    bank: &Bank,
    attempt: &Attempt,
    now: Moment,
) -> Result<NewProposal, ActionError> {
    let scheme = scheme_of(tx, bank, attempt).await?;
    let result = attempts::find_result(tx, attempt.id).await?.ok_or(StoreError::NotFound)?;
    let outcome = read_outcome(&result.outcome)?;
    proposal_about(tx, bank, &scheme, attempt, &outcome, result.graded_at, now).await
}

/// Works a proposal out again and keeps it when it is another one now.
pub(super) async fn propose_anew(
    tx: &impl ConnectionTrait,
    bank: &Bank,
    kept: &KeptProposal,
    now: Moment,
) -> Result<bool, ActionError> {
    let attempt = attempts::by_id(tx, kept.entry.person_id, kept.entry.attempt_id).await?;
    let mut anew = proposal_again(tx, bank, &attempt, now).await?;
    if anew.proposal == kept.entry.proposal {
        return Ok(false);
    }
    let detail = serde_json::json!({ "attempt": attempt.id.0, "proposal": anew.proposal });
    let deed = about_person_with(now, None, "certification_proposed", attempt.person_id, detail);
    anew.record_entry_id = record::append(tx, deed).await?;
    // The machines stay those of the examination.
    anew.machines.clone_from(&kept.entry.machines);
    proposals::append(tx, anew).await?;
    Ok(true)
}

/// The competences in which the person missed a mandatory safety question after a sitting, and in which nothing was granted since.
pub(super) async fn missed_since(
    db: &impl ConnectionTrait,
    person: PersonId,
    examined_at: Moment,
) -> Result<BTreeSet<String>, StoreError> {
    let (mut made_good, mut missed) = (BTreeSet::new(), BTreeSet::new());
    // The newest first.
    for found in qualifications::of_person(db, person).await? {
        let entry = found.entry;
        if entry.outcome == QualificationOutcome::Qualified {
            made_good.insert(entry.competence_key);
        } else if entry.safety_miss && entry.valid_from > examined_at && !made_good.contains(&entry.competence_key) {
            missed.insert(entry.competence_key);
        }
    }
    Ok(missed)
}

pub(super) fn read_outcome(json: &str) -> Result<Outcome, StoreError> {
    serde_json::from_str(json).map_err(|error| StoreError::Corrupt(format!("an outcome does not read back: {error}")))
}

/// The scheme's machines: in the version that the questions asked about, or, where none did, as the bank has it.
async fn machines(
    tx: &impl ConnectionTrait,
    bank: &Bank,
    scheme: &Scheme,
    attempt: &Attempt,
) -> Result<Vec<MachineVersion>, ActionError> {
    let mut versions: BTreeMap<String, i32> = bank
        .machines()
        .filter(|machine| scheme.machines.is_empty() || scheme.machines.contains(&machine.profile.id))
        .map(|machine| (machine.profile.id.clone(), i32::try_from(machine.version).unwrap_or(i32::MAX)))
        .collect();
    for asked in attempts::questions(tx, attempt.id).await? {
        versions.insert(asked.question.machine_key, asked.question.machine_version);
    }
    Ok(versions.into_iter().map(|(machine, version)| MachineVersion { machine, version }).collect())
}
