//! The answer: everyone's standing on the day, for the machine; who may be sent first.
//!
//! A person may be sent on a day when they may be sent at its first moment (today: now) and at its last. What happened
//! later than the moment looked at is left out. Never takes a certificate for a machine outside its scope.

use super::Line;
use super::asked::Asked;
use crate::domain::bank::Bank;
use crate::domain::certification::scope::{Sort, for_machine};
use crate::domain::people::{Permission, allows};
use crate::domain::units::Moment;
use crate::store::branches::Branch;
use crate::store::qualifications::{Qualification, QualificationOutcome};
use crate::store::read::certification::Certification;
use crate::store::read::matrix::{MatrixFilter, MatrixRow, matrix};
use crate::web::App;
use crate::web::dates::span_of;
use crate::web::error::PageError;
use crate::web::pages::qualified::filter::rank;
use crate::web::pages::record::stood::Stood;
use std::cmp::Ordering;
use std::collections::BTreeMap;

/// Everyone, by whether they may be sent.
pub(super) struct Answer {
    pub(super) may: Vec<Answered>,
    pub(super) may_not: Vec<Answered>,
}

/// One person's part of the answer.
pub(super) struct Answered {
    pub(super) person: i64,
    pub(super) name: String,
    pub(super) branch: String,
    /// Whether they may still sign in.
    pub(super) active: bool,
    pub(super) stood: Stood,
    /// Until when the certificate is valid, for who may be sent.
    pub(super) until: Option<Moment>,
    /// The number of the certificate that it rests on.
    pub(super) certificate: Option<String>,
    /// The machines that they are qualified for, when this one is not among them.
    pub(super) elsewhere: Vec<String>,
    /// Whether they may be sent for a part of the day.
    pub(super) for_a_part: bool,
    /// Competences in which a safety miss of theirs was open.
    pub(super) misses: Vec<String>,
}

/// Reads it: a fixed number of queries, whatever the number of people.
pub(super) async fn answer(
    app: &App,
    bank: &Bank,
    asked: &Asked,
    open: &[Branch],
    now: Moment,
) -> Result<Answer, PageError> {
    let of = MatrixFilter { branch: asked.branch.as_ref().map(|branch| branch.id), competence: None, whole: true };
    let rows = matrix(&app.deeds.db, &of).await?;
    let zones: BTreeMap<_, _> = open.iter().map(|branch| (branch.id, branch.time_zone.as_str())).collect();
    let mut answer = Answer { may: Vec::new(), may_not: Vec::new() };
    let mut spans: BTreeMap<&str, (Moment, Moment)> = BTreeMap::new();
    for row in rows {
        let Some(zone) = zones.get(&row.branch_id) else { continue };
        let span = match spans.get(zone) {
            Some(span) => *span,
            None => *spans.entry(zone).or_insert(span_of(asked.day, zone)?),
        };
        let from = if asked.when == Ordering::Equal { now } else { span.0 };
        let Some(one) = answered(bank, asked, row, from, Moment(span.1.0 - 1)) else { continue };
        if one.may() { answer.may.push(one) } else { answer.may_not.push(one) }
    }
    // Stable: by branch and name within each state.
    answer.may.sort_by_key(|one| rank(&one.stood));
    answer.may_not.sort_by_key(|one| rank(&one.stood));
    Ok(answer)
}

fn answered(bank: &Bank, asked: &Asked, mut row: MatrixRow, from: Moment, last: Moment) -> Option<Answered> {
    // Who is no longer here is listed for past days, and marked.
    if !row.active && asked.when != Ordering::Less {
        return None;
    }
    let entries = row.cells.remove(&asked.competence.id).unwrap_or_default();
    let (first, end) = (known_at(&row, asked, &entries, from), known_at(&row, asked, &entries, last));
    let (may_first, may_end) = (first.may_be_sent(), end.may_be_sent());
    let for_a_part = may_first != may_end;
    let stood = if may_end && !may_first { first } else { end };
    let learns = allows(row.role, Permission::SitExaminations);
    let asked_for = row
        .scheme_key
        .as_deref()
        .and_then(|key| bank.scheme(key))
        .is_none_or(|entry| entry.scheme.parts.iter().any(|part| part.competence == asked.competence.id));
    if entries.is_empty() && !(learns && asked_for && row.active) {
        return None;
    }
    let pass = stood.pass().filter(|_| stood.may_be_sent());
    let certificate = pass.and_then(|pass| of_attempt(&row.certification, pass));
    let misses = if stood.may_be_sent() { open_misses(bank, &row, last) } else { Vec::new() };
    Some(Answered {
        person: row.person_id.0,
        until: pass.and_then(|pass| pass.entry.valid_until),
        certificate: certificate.map(|found| found.number.to_string()),
        elsewhere: if stood.may_be_sent() { Vec::new() } else { elsewhere(bank, &row, &entries, asked, last) },
        name: row.display_name,
        branch: row.branch_name,
        active: row.active,
        stood,
        for_a_part,
        misses,
    })
}

/// Where somebody stood with the machine at a moment, from what was known then.
fn known_at(row: &MatrixRow, asked: &Asked, entries: &[Qualification], at: Moment) -> Stood {
    let known = row.certification.as_of(at);
    let by_then: Vec<Qualification> = entries.iter().filter(|found| found.entry.valid_from <= at).cloned().collect();
    let sort = |found: &Qualification| match found.entry.outcome {
        QualificationOutcome::Refused => Sort::Missed,
        QualificationOutcome::Qualified if covers(&known, found, &asked.machine.id) => Sort::GrantedFor,
        QualificationOutcome::Qualified => Sort::GrantedElsewhere,
    };
    Stood::at(for_machine(by_then, sort), &known, &asked.competence.id, at)
}

fn covers(known: &Certification, pass: &Qualification, machine: &str) -> bool {
    of_attempt(known, pass).is_some_and(|found| found.entry.machines.iter().any(|on| on.machine == machine))
}

fn of_attempt<'a>(
    known: &'a Certification,
    pass: &Qualification,
) -> Option<&'a crate::store::certificates::Certificate> {
    known.certificates.iter().find(|found| found.entry.attempt_id == pass.entry.attempt_id)
}

/// The machines that somebody who may not be sent to this one may be sent to.
fn elsewhere(bank: &Bank, row: &MatrixRow, entries: &[Qualification], asked: &Asked, at: Moment) -> Vec<String> {
    let known = row.certification.as_of(at);
    let by_then: Vec<Qualification> = entries.iter().filter(|found| found.entry.valid_from <= at).cloned().collect();
    let stood = Stood::at(by_then, &known, &asked.competence.id, at);
    let certificate = stood.pass().filter(|_| stood.may_be_sent()).and_then(|pass| of_attempt(&known, pass));
    let machines = certificate.map(|found| found.entry.machines.as_slice()).unwrap_or_default();
    let name = |id: &str| bank.machine(id).map_or_else(|| id.to_owned(), |known| known.profile.name.clone());
    machines.iter().filter(|on| on.machine != asked.machine.id).map(|on| name(&on.machine)).collect()
}

/// Competences in which a safety miss is open at a moment, other than the one that was asked for.
fn open_misses(bank: &Bank, row: &MatrixRow, at: Moment) -> Vec<String> {
    let known = row.certification.as_of(at);
    let open = row.cells.iter().filter(|(key, entries)| {
        let by_then = entries.iter().filter(|found| found.entry.valid_from <= at).cloned().collect();
        Stood::at(by_then, &known, key, at).safety_miss_is_open()
    });
    open.map(|(key, _)| bank.competence(key).map_or_else(|| key.clone(), |known| known.name.clone())).collect()
}

impl Answered {
    /// Whether they may be sent for the whole day.
    pub(super) fn may(&self) -> bool {
        self.stood.may_be_sent() && !self.for_a_part
    }

    /// The state's word; who may be sent for a part of the day only has none of the words for the others.
    pub(super) fn word(&self) -> &'static str {
        if self.elsewhere.is_empty() || self.stood.may_be_sent() { self.stood.word() } else { "missing" }
    }

    /// Until when, or why not.
    pub(super) fn note(&self, zone: &str) -> Result<String, PageError> {
        let mut note = if self.elsewhere.is_empty() {
            self.stood.note(zone)?.unwrap_or_default()
        } else {
            format!("not for this machine, only for {}", self.elsewhere.join(", "))
        };
        if self.for_a_part {
            note.push_str("; for a part of the day only");
        }
        if !self.active {
            note.push_str("; is no longer here");
        }
        Ok(note)
    }

    pub(super) fn line(&self, zone: &str) -> Result<Line, PageError> {
        Ok(Line {
            name: self.name.clone(),
            href: format!("/qualified/people/{}", self.person),
            branch: self.branch.clone(),
            state: self.word(),
            note: self.note(zone)?,
            certificate: self.certificate.clone(),
            misses: self.misses.clone(),
        })
    }
}
