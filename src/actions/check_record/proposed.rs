//! What the rules proposed after an examination, and the decision and the certificate that rest on it, held against what the
//! examination came to.
//!
//! Never says what somebody brought beside the sitting: that is on record with the proposal itself. Entries of older releases tell of
//! no first proposal: where its scheme asks for it, that it names a certificate that was not held, or a task that nobody had
//! seen, is taken as it stands until the entry about the decision, which tells what was proposed then.

use super::detail;
use crate::actions::conclude::months_later;
use crate::actions::grant::year_of;
use crate::actions::past_bank::PastBank;
use crate::actions::regrade::Rows;
use crate::domain::certification::decision::Verdict;
use crate::domain::certification::proposal::{Brought, Ground, Proposal, Proposes, propose};
use crate::domain::certification::trigger::MachineVersion;
use crate::domain::examination::outcome::Outcome;
use crate::domain::examination::scheme::Scheme;
use crate::domain::units::Moment;
use crate::store::certificates::Certificate;
use crate::store::decisions::{self, Decision};
use crate::store::proposals::{self, KeptProposal, NewProposal};
use crate::store::qualifications::{self, Qualification};
use crate::store::record::RecordEntry;
use crate::store::{AttemptId, StoreError};
use sea_orm::ConnectionTrait;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

/// The reason of every decision that nobody made: what was qualified before there were proposals.
const BY_RULE: &str = "Granted by rule, before service managers decided.";

/// Everything that is said to have followed on one examination.
#[derive(Default)]
pub(super) struct Followed {
    pub(super) qualifications: Vec<Qualification>,
    /// Oldest first.
    pub(super) proposals: Vec<KeptProposal>,
    pub(super) decision: Option<Decision>,
    pub(super) certificate: Option<Certificate>,
}

impl Followed {
    /// Of every attempt, without the certificates.
    pub(super) async fn all(db: &impl ConnectionTrait) -> Result<BTreeMap<AttemptId, Self>, StoreError> {
        let mut all: BTreeMap<AttemptId, Self> = BTreeMap::new();
        for row in qualifications::all(db).await? {
            all.entry(row.entry.attempt_id).or_default().qualifications.push(row);
        }
        for row in proposals::all(db).await? {
            all.entry(row.entry.attempt_id).or_default().proposals.push(row);
        }
        for row in decisions::all(db).await? {
            let of: &mut Self = all.entry(row.attempt_id).or_default();
            of.decision = Some(row);
        }
        Ok(all)
    }

    pub(super) const fn is_nothing(&self) -> bool {
        self.qualifications.is_empty() && self.proposals.is_empty() && self.decision.is_none()
    }
}

/// An examination, and what it came to when it was graded again.
pub(super) struct Examined<'e> {
    pub(super) rows: &'e Rows,
    pub(super) scheme: &'e Scheme,
    pub(super) outcome: &'e Outcome,
    /// The entry about its grading.
    pub(super) entry: &'e RecordEntry,
    pub(super) past: &'e PastBank,
}

/// Where the rows differ from what the examination leads to, in words.
pub(super) fn differences(of: &Examined<'_>, followed: &Followed) -> Vec<String> {
    let Some(at) = of.rows.result.as_ref().map(|result| result.graded_at) else { return Vec::new() };
    // Proposals are older than the making that the entry names.
    let proposed_always = detail(of.entry).get("making").is_some();
    let by_rule = followed.decision.as_ref().filter(|decision| decision.decided_by.is_none());
    let (Some(first), Some(last)) = (followed.proposals.first(), followed.proposals.last()) else {
        let wanted = proposed_always || of.outcome.passed || followed.decision.is_some();
        let gone = wanted || followed.certificate.is_some();
        return gone.then(|| "nothing is proposed after it any more".to_owned()).into_iter().collect();
    };
    let mut says = Vec::new();
    if let Some(decision) = by_rule {
        if proposed_always || followed.proposals.len() > 1 || !is_by_rule(of, decision, at) {
            says.push("it is said to have been granted by rule, and was not".to_owned());
        }
        says.extend(differs(&first.entry, &wanted_by_rule(of, at)));
    } else {
        for kept in &followed.proposals {
            says.extend(differs(&kept.entry, &wanted(of, at, first, kept)));
        }
        says.extend(first_is_not_as_told(of.entry, &first.entry));
    }
    let other =
        |decision: &Decision| (decision.proposal_id, decision.proposes) != (last.id, last.entry.proposal.proposes);
    if followed.decision.as_ref().is_some_and(other) {
        says.push("what was decided is about another proposal than the last".to_owned());
    }
    if let Some(certificate) = &followed.certificate {
        let machines = if by_rule.is_some() { asked(of.rows) } else { last.entry.machines.clone() };
        says.extend(not_as_proposed(certificate, last, machines, by_rule.map(|_| (at, of.entry))));
    }
    says
}

/// Where the first proposal is not what the entry about the grading tells of it, in words.
fn first_is_not_as_told(entry: &RecordEntry, first: &NewProposal) -> Option<String> {
    let told = detail(entry);
    let is = |field: &str, stored: Value| told.get(field).is_none_or(|told| *told == stored);
    let same =
        [("proposal", is("proposal", json!(first.proposal))), ("machines", is("machines", json!(first.machines)))];
    named(&same).map(|what| format!("its first proposal is not what was put on record: {what}"))
}

/// Whether a decision is as the step that brought proposals made it for what had been granted at once.
fn is_by_rule(of: &Examined<'_>, decision: &Decision, at: Moment) -> bool {
    of.outcome.passed
        && decision.verdict == Verdict::Granted
        && decision.reason == BY_RULE
        && decision.decided_at == at
        && decision.record_entry_id == of.entry.id
}

/// The proposal as that step made it.
fn wanted_by_rule(of: &Examined<'_>, at: Moment) -> NewProposal {
    let attempt = &of.rows.attempt;
    NewProposal {
        attempt_id: attempt.id,
        person_id: attempt.person_id,
        scheme_key: attempt.scheme_key.clone().unwrap_or_default(),
        scheme_version: attempt.scheme_version.unwrap_or_default(),
        proposal: Proposal { proposes: Proposes::Grant, safety_miss: false, grounds: Vec::new() },
        competences: Vec::new(),
        machines: Vec::new(),
        examined_at: at,
        valid_until: months_later(at, of.scheme.valid_for_months).unwrap_or(at),
        made_at: at,
        record_entry_id: of.entry.id,
    }
}

/// A proposal as it has to be. When a later one was made is told by its own entry.
fn wanted(of: &Examined<'_>, at: Moment, first: &KeptProposal, kept: &KeptProposal) -> NewProposal {
    let later = kept.id != first.id;
    // Machines that nobody asked about are as the bank had them then: they are taken as they stand where they can be.
    let machines = if later {
        first.entry.machines.clone()
    } else if are_machines_of(of, &kept.entry.machines) {
        kept.entry.machines.clone()
    } else {
        asked(of.rows)
    };
    NewProposal {
        proposal: again(of, &kept.entry.proposal),
        competences: of.scheme.parts.iter().map(|part| part.competence.clone()).collect(),
        machines,
        made_at: if later { kept.entry.made_at } else { at },
        record_entry_id: if later { kept.entry.record_entry_id } else { of.entry.id },
        ..wanted_by_rule(of, at)
    }
}

/// What the rules propose on the outcome when what was brought beside it is taken as the stored proposal has it.
fn again(of: &Examined<'_>, stored: &Proposal) -> Proposal {
    let mut brought = Brought {
        schemes: of.scheme.prerequisites.iter().cloned().collect(),
        practical: of.scheme.practical.iter().cloned().collect(),
        missed_since: BTreeSet::new(),
    };
    for ground in &stored.grounds {
        match ground {
            Ground::Prerequisite { scheme } => _ = brought.schemes.remove(scheme),
            Ground::Practical { task } => _ = brought.practical.remove(task),
            Ground::MissedSince { competence } => _ = brought.missed_since.insert(competence.clone()),
            Ground::SafetyMiss { .. } | Ground::Score { .. } | Ground::Part { .. } => {}
        }
    }
    let proposal = propose(of.scheme, of.outcome, &brought);
    // Percents are compared as they read back from a text, as the stored ones were.
    let read_back = serde_json::to_string(&proposal).and_then(|text| serde_json::from_str(&text));
    read_back.unwrap_or(proposal)
}

/// The machines that were asked about, each in the version of the last question.
fn asked(rows: &Rows) -> Vec<MachineVersion> {
    let asked = rows.questions.iter().map(|asked| (&asked.question.machine_key, asked.question.machine_version));
    let asked: BTreeMap<_, _> = asked.collect();
    asked.into_iter().map(|(machine, version)| MachineVersion { machine: machine.clone(), version }).collect()
}

/// Whether these are the machines that were asked about, and beside them only others of the scheme that the bank has had.
fn are_machines_of(of: &Examined<'_>, machines: &[MachineVersion]) -> bool {
    let (asked, scheme) = (asked(of.rows), &of.scheme.machines);
    let may_be = |on: &MachineVersion| {
        (scheme.is_empty() || scheme.contains(&on.machine) || asked.contains(on))
            && of.past.has_machine(&on.machine, on.version)
    };
    asked.iter().all(|on| machines.contains(on))
        && machines.iter().all(may_be)
        && machines.windows(2).all(|two| two[0].machine < two[1].machine)
}

/// What of a proposal is not as it has to be, in words.
fn differs(kept: &NewProposal, wanted: &NewProposal) -> Option<String> {
    let same = [
        ("person", kept.person_id == wanted.person_id),
        ("scheme", (&kept.scheme_key, kept.scheme_version) == (&wanted.scheme_key, wanted.scheme_version)),
        ("what is proposed and why", kept.proposal == wanted.proposal),
        ("competences", kept.competences == wanted.competences),
        ("machines", kept.machines == wanted.machines),
        ("moment of grading", kept.examined_at == wanted.examined_at),
        ("end", kept.valid_until == wanted.valid_until),
        ("moment", kept.made_at == wanted.made_at),
        ("entry of the record", kept.record_entry_id == wanted.record_entry_id),
    ];
    named(&same).map(|what| format!("a proposal on it is not what it leads to: {what}"))
}

/// What of a certificate is not as it was proposed, in words. `by_rule` is when and by which entry it was granted at once.
fn not_as_proposed(
    certificate: &Certificate,
    last: &KeptProposal,
    machines: Vec<MachineVersion>,
    by_rule: Option<(Moment, &RecordEntry)>,
) -> Option<String> {
    let (granted, of) = (&certificate.entry, &last.entry);
    let sorted = |mut machines: Vec<MachineVersion>| {
        machines.sort();
        machines
    };
    let same = [
        ("proposal", granted.proposal_id == last.id && of.proposal.proposes == Proposes::Grant),
        ("person", granted.person_id == of.person_id),
        ("scheme", (&granted.scheme_key, granted.scheme_version) == (&of.scheme_key, of.scheme_version)),
        ("machines", sorted(granted.machines.clone()) == sorted(machines)),
        ("moment of grading", granted.examined_at == of.examined_at),
        ("end", granted.valid_until == of.valid_until),
        ("year of its number", year_of(granted.valid_from).is_ok_and(|year| year == certificate.number.year)),
        ("beginning", by_rule.is_none_or(|(at, _)| granted.valid_from == at)),
        ("entry of the record", by_rule.is_none_or(|(_, entry)| granted.record_entry_id == entry.id)),
    ];
    named(&same).map(|what| format!("certificate {} is not what was proposed: {what}", certificate.number))
}

/// The names of what is not the same; nothing when everything is.
fn named(same: &[(&str, bool)]) -> Option<String> {
    let other: Vec<&str> = same.iter().filter(|(_, same)| !same).map(|(what, _)| *what).collect();
    (!other.is_empty()).then(|| other.join(", "))
}
