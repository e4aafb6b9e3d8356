//! Holding later proposals, decisions, appeals, certificates, what was done to them and what asks for refreshers against the record.
//!
//! Does not say whether a decision was right. That its proposal and its certificate follow from the sitting is told by the
//! examination's check, in `proposed`, which also names what of a first proposal cannot be told.

use super::{RecordChecked, detail};
use crate::domain::certification::certificate::EventKind;
use crate::domain::units::Moment;
use crate::store::certificates::{Certificate, KeptEvent};
use crate::store::decisions::{self, Appeal, AppealDecision, Decision};
use crate::store::proposals::{self, KeptProposal};
use crate::store::read::certification;
use crate::store::record::{self, RecordEntry};
use crate::store::triggers::KeptTrigger;
use crate::store::{AttemptId, PersonId, RecordEntryId, StoreError};
use sea_orm::ConnectionTrait;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// Deeds of which each entry has a row that tells the same.
const DEEDS: [&str; 7] = [
    "certification_proposed",
    "certification_decided",
    "appeal_lodged",
    "appeal_decided",
    "certificate_granted",
    "certificate_changed",
    "refresher_trigger_recorded",
];

/// What an entry must say for a row to be bound by it.
struct Bound {
    /// What the row is, for whoever reads the report.
    what: String,
    entry: RecordEntryId,
    deed: &'static str,
    at: Moment,
    /// Who did it; outer nothing where the row does not name them.
    by: Option<Option<PersonId>>,
    /// Whom it is about; nobody where the row does not say.
    person: Option<PersonId>,
    detail: Vec<(&'static str, Value)>,
}

impl Bound {
    fn tells(&self, entry: &RecordEntry) -> bool {
        let told = detail(entry);
        entry.deed == self.deed
            && entry.at == self.at
            && self.by.is_none_or(|by| entry.actor_id == by)
            && self.person.is_none_or(|person| entry.subject_id == Some(person.0))
            && self.detail.iter().all(|(field, value)| told[*field] == *value)
    }
}

pub(super) async fn check_certification(
    db: &impl ConnectionTrait,
    found: &mut RecordChecked,
) -> Result<(), StoreError> {
    let entries = record::of_kind(db, "person").await?.into_iter().filter(|entry| DEEDS.contains(&entry.deed.as_str()));
    let entries: BTreeMap<RecordEntryId, RecordEntry> = entries.map(|entry| (entry.id, entry)).collect();
    let decided = decisions::all(db).await?;
    // Before anybody decided, an examination that was passed granted at once: its own entry, bound to the sitting, tells of it.
    let by_rule: BTreeSet<AttemptId> =
        decided.iter().filter(|one| one.decided_by.is_none()).map(|one| one.attempt_id).collect();
    let mut rows: Vec<Bound> = decided.iter().filter(|one| one.decided_by.is_some()).map(of_decision).collect();
    // The first about a sitting is told by the entry about its grading.
    let mut first = BTreeSet::new();
    let later = proposals::all(db).await?.into_iter().filter(|kept| !first.insert(kept.entry.attempt_id));
    rows.extend(later.map(|kept| of_later_proposal(&kept)));
    rows.extend(decisions::all_appeals(db).await?.iter().map(of_appeal));
    rows.extend(decisions::all_appeal_decisions(db).await?.iter().map(of_appeal_decision));
    let everyone = certification::of_everyone(db, None).await?;
    let mut certificates: Vec<&Certificate> = everyone.values().flat_map(|of| &of.certificates).collect();
    certificates.sort_by_key(|certificate| certificate.id);
    for certificate in &certificates {
        if !by_rule.contains(&certificate.entry.attempt_id) {
            rows.push(of_certificate(certificate));
        }
        let done = certificate.events.iter().filter(|kept| kept.event.kind != EventKind::Renewed);
        rows.extend(done.map(|kept| of_event(certificate, kept)));
    }
    rows.extend(everyone.values().flat_map(|of| &of.triggers).map(of_trigger));

    let mut kept = BTreeSet::new();
    for row in rows {
        if !kept.insert(row.entry) || !entries.get(&row.entry).is_some_and(|entry| row.tells(entry)) {
            found.fault(row.what, "it is not what was put on record");
        }
    }
    for entry in entries.values().filter(|entry| !kept.contains(&entry.id)) {
        let about = format!("person {}", entry.subject_id.unwrap_or_default());
        let what = entry.deed.replace('_', " ");
        found.fault(about, format!("\"{what}\" is on record (entry {}), and is not there", entry.id));
    }
    numbers_run_on(&certificates, found);
    places_are_taken(&certificates, found);
    Ok(())
}

/// A certificate's number is no part of its entry, which is written before the number is known: the order of the rows is what
/// binds it.
fn numbers_run_on(certificates: &[&Certificate], found: &mut RecordChecked) {
    let mut last: BTreeMap<i32, i64> = BTreeMap::new();
    for certificate in certificates {
        let before = last.entry(certificate.number.year).or_default();
        *before += 1;
        if certificate.number.running != *before {
            found.fault(format!("certificate {}", certificate.number), "its number does not follow the one before");
            *before = certificate.number.running;
        }
    }
}

/// A later certificate by the same scheme takes the place of the one before, unless that was withdrawn.
fn places_are_taken(certificates: &[&Certificate], found: &mut RecordChecked) {
    let mut last: BTreeMap<(PersonId, &str), &Certificate> = BTreeMap::new();
    for certificate in certificates {
        let of = (certificate.entry.person_id, certificate.entry.scheme_key.as_str());
        let Some(before) = last.insert(of, certificate) else { continue };
        let ends = |kept: &KeptEvent| {
            matches!(kept.event.kind, EventKind::Renewed | EventKind::Withdrawn)
                && kept.event.at <= certificate.entry.valid_from
        };
        if !before.events.iter().any(ends) {
            let says = format!("certificate {} has taken its place, and it does not say so", certificate.number);
            found.fault(format!("certificate {}", before.number), says);
        }
    }
    for certificate in certificates {
        let renewed = certificate.events.iter().any(|kept| kept.event.kind == EventKind::Renewed);
        let of = (certificate.entry.person_id, certificate.entry.scheme_key.as_str());
        if renewed && last.get(&of).is_some_and(|last| last.id == certificate.id) {
            found.fault(format!("certificate {}", certificate.number), "it is marked as renewed, and none is later");
        }
    }
}

fn of_later_proposal(kept: &KeptProposal) -> Bound {
    let of = &kept.entry;
    Bound {
        what: format!("a later proposal about attempt {}", of.attempt_id),
        entry: of.record_entry_id,
        deed: "certification_proposed",
        at: of.made_at,
        by: Some(None),
        person: Some(of.person_id),
        detail: vec![("attempt", json!(of.attempt_id)), ("proposal", json!(of.proposal))],
    }
}

fn of_decision(decision: &Decision) -> Bound {
    Bound {
        what: format!("the decision about attempt {}", decision.attempt_id),
        entry: decision.record_entry_id,
        deed: "certification_decided",
        at: decision.decided_at,
        by: Some(decision.decided_by),
        person: None,
        detail: vec![
            ("attempt", json!(decision.attempt_id)),
            ("proposed", json!(decision.proposes)),
            ("decided", json!(decision.verdict)),
            ("reason", json!(decision.reason)),
        ],
    }
}

fn of_appeal(appeal: &Appeal) -> Bound {
    Bound {
        what: format!("the appeal about attempt {}", appeal.attempt_id),
        entry: appeal.record_entry_id,
        deed: "appeal_lodged",
        at: appeal.lodged_at,
        by: None,
        person: None,
        detail: vec![("attempt", json!(appeal.attempt_id)), ("text", json!(appeal.text))],
    }
}

fn of_appeal_decision(heard: &AppealDecision) -> Bound {
    Bound {
        what: format!("what was decided on the appeal about attempt {}", heard.attempt_id),
        entry: heard.record_entry_id,
        deed: "appeal_decided",
        at: heard.decided_at,
        by: Some(Some(heard.decided_by)),
        person: None,
        detail: vec![
            ("attempt", json!(heard.attempt_id)),
            ("decided", json!(heard.finding)),
            ("reason", json!(heard.reason)),
        ],
    }
}

fn of_certificate(certificate: &Certificate) -> Bound {
    let of = &certificate.entry;
    Bound {
        what: format!("certificate {}", certificate.number),
        entry: of.record_entry_id,
        deed: "certificate_granted",
        at: of.valid_from,
        by: None,
        person: Some(of.person_id),
        detail: vec![
            ("attempt", json!(of.attempt_id)),
            ("scheme", json!(of.scheme_key)),
            ("scheme_version", json!(of.scheme_version)),
            ("valid_until", json!(of.valid_until.0)),
            ("machines", json!(of.machines)),
        ],
    }
}

fn of_event(certificate: &Certificate, kept: &KeptEvent) -> Bound {
    Bound {
        what: format!("what was done to certificate {}", certificate.number),
        entry: kept.record_entry_id,
        deed: "certificate_changed",
        at: kept.event.at,
        by: Some(kept.done_by),
        person: Some(certificate.entry.person_id),
        detail: vec![
            ("certificate", json!(certificate.number.to_string())),
            ("event", json!(kept.event.kind)),
            ("reason", json!(kept.reason)),
        ],
    }
}

fn of_trigger(kept: &KeptTrigger) -> Bound {
    let of = &kept.entry;
    Bound {
        what: format!("what asks person {} for a refresher", of.person_id),
        entry: of.record_entry_id,
        deed: "refresher_trigger_recorded",
        at: of.trigger.at,
        by: Some(Some(of.recorded_by)),
        person: Some(of.person_id),
        detail: vec![
            ("kind", json!(of.trigger.kind)),
            ("machine", json!(of.trigger.machine)),
            ("text", json!(of.text)),
        ],
    }
}
