//! One person's record: where they stand in each competence, with the entry that decides it, and what happened.

use super::certified::{CertificateRow, DecisionRow, HappenedRow, certificate_rows, decision_rows, happened_rows};
use super::events::{Event, Happened, scheme_title};
use super::observed::{ObservedRow, observed_rows};
use super::stood::{Stood, Subject, subjects};
use crate::store::people::Person;
use crate::store::qualifications::Qualification;
use crate::store::read::history;
use crate::store::read::record_head::record_head;
use crate::store::{AttemptId, PersonId, branches, progress};
use crate::web::address::in_query;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::HttpResponse;
use serde::Serialize;
use std::collections::BTreeMap;

/// Who looks at a record: it leads to other addresses and speaks of "you" or of the person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::web::pages) enum Seen {
    /// The person.
    ByThemselves,
    /// A service manager.
    ByAManager,
}

impl Seen {
    /// The address of a graded sitting.
    pub(super) fn sitting(self, person: PersonId, attempt: AttemptId) -> String {
        match self {
            Self::ByThemselves => format!("/record/sitting/{attempt}"),
            Self::ByAManager => format!("/qualified/people/{person}/sitting/{attempt}"),
        }
    }

    /// The address of a certificate.
    pub(in crate::web::pages) fn certificate(self, number: &str) -> String {
        match self {
            Self::ByThemselves => format!("/record/certificates/{number}"),
            Self::ByAManager => format!("/decisions/certificates/{number}"),
        }
    }

    /// The address of the record.
    pub(super) fn record(self, person: PersonId) -> String {
        match self {
            Self::ByThemselves => "/record".to_owned(),
            Self::ByAManager => format!("/qualified/people/{person}"),
        }
    }

    /// The place in the line at the top.
    pub(super) const fn place(self) -> &'static str {
        match self {
            Self::ByThemselves => "/record",
            Self::ByAManager => "/qualified",
        }
    }
}

#[derive(Serialize)]
struct StandingRow {
    name: String,
    mandatory: bool,
    state: &'static str,
    note: Option<String>,
    reason: Option<String>,
    /// From when to when the last pass holds, whatever became of it.
    valid_from: Option<i64>,
    valid_until: Option<i64>,
    /// The sitting that decides.
    href: Option<String>,
    entry: Option<i64>,
}

#[derive(Serialize)]
struct RecordPage {
    page: Page,
    own: bool,
    name: String,
    email: String,
    branch: String,
    role: &'static str,
    may_sign_in: bool,
    scheme: Option<String>,
    said: String,
    standings: Vec<StandingRow>,
    certificates: Vec<CertificateRow>,
    decisions: Vec<DecisionRow>,
    happened: Vec<HappenedRow>,
    /// Practical tasks that were watched.
    observed: Vec<ObservedRow>,
    /// Where a service manager writes down that something happened.
    refresher: Option<String>,
    events: Vec<Event>,
    /// Where everything stands in order.
    history: String,
    entries: i64,
    hash: String,
    now: i64,
    zone: String,
}

/// Draws a person's record.
pub(in crate::web::pages) async fn person_page(
    app: &App,
    reader: &SignedIn,
    person: Person,
    seen: Seen,
) -> Result<HttpResponse, PageError> {
    let in_use = app.deeds.bank.now();
    let (bank, db, now, zone) = (&in_use.bank, &app.deeds.db, app.deeds.clock.now(), &reader.time_zone);
    let all = history::of_person(db, person.id).await?;
    let mut by_competence: BTreeMap<String, Vec<Qualification>> = BTreeMap::new();
    for found in all.qualifications {
        by_competence.entry(found.entry.competence_key.clone()).or_default().push(found);
    }
    let subjects = subjects(bank, by_competence.keys());
    let stood = Stood::in_all(bank, &subjects, person.scheme_key.as_deref(), by_competence, &all.certification, now);
    let happened = Happened {
        attempts: all.attempts,
        misses: history::mandatory_misses(db, person.id).await?,
        holders: history::debrief_holders(db, person.id).await?,
        lessons: progress::lessons_read(db, person.id).await?,
    };
    let branch = branches::by_id(db, person.branch_id).await?;
    let head = record_head(db).await?;
    let own = seen == Seen::ByThemselves;
    let title = if own { "Your record".to_owned() } else { person.display_name.clone() };
    let standing = |(subject, stood): (&Subject, &Stood)| row(subject, stood, person.id, seen, zone);
    let context = RecordPage {
        page: reader.page(&title, seen.place()),
        own,
        said: said(&subjects, &stood, own),
        standings: subjects
            .iter()
            .zip(&stood)
            .filter(|(_, stood)| stood.standing.is_some())
            .map(standing)
            .collect::<Result<_, _>>()?,
        certificates: certificate_rows(bank, &all.certification, seen, now, zone)?,
        decisions: decision_rows(bank, &all.decisions, seen, now, zone)?,
        happened: happened_rows(&all.certification),
        observed: observed_rows(app, person.id, seen).await?,
        refresher: (!own).then(|| format!("/refreshers?email={}", in_query(&person.email))),
        events: happened.events(bank, seen, zone)?,
        history: format!("/qualified/people/{}/history", person.id),
        branch: branch.name,
        role: person.role.name(),
        may_sign_in: person.active,
        scheme: person.scheme_key.as_deref().map(|key| scheme_title(bank, Some(key))),
        name: person.display_name,
        email: person.email,
        entries: head.entries,
        hash: head.hash,
        now: now.0,
        zone: zone.clone(),
    };
    reply::page(app, "pages/record/record.html", &context)
}

fn row(subject: &Subject, stood: &Stood, person: PersonId, seen: Seen, zone: &str) -> Result<StandingRow, PageError> {
    let deciding = stood.deciding().map(|found| &found.entry);
    let pass = stood.pass().map(|found| &found.entry);
    Ok(StandingRow {
        name: subject.name.clone(),
        mandatory: subject.mandatory,
        state: stood.word(),
        note: stood.note(zone)?,
        reason: deciding.map(|entry| entry.reason.clone()),
        valid_from: pass.map(|entry| entry.valid_from.0),
        valid_until: pass.and_then(|entry| entry.valid_until).map(|until| until.0),
        href: deciding.map(|entry| seen.sitting(person, entry.attempt_id)),
        entry: deciding.map(|entry| entry.record_entry_id.0),
    })
}

/// Where the person stands, in a sentence or two. An open safety miss comes first.
fn said(subjects: &[Subject], stood: &[Stood], own: bool) -> String {
    let names = |wanted: &dyn Fn(&Stood) -> bool| {
        let found = subjects.iter().zip(stood).filter(|(_, stood)| wanted(stood));
        found.map(|(subject, _)| subject.name.clone()).collect::<Vec<_>>().join(", ")
    };
    let (open, held) = (names(&Stood::safety_miss_is_open), names(&Stood::may_be_sent));
    let (missed, holds) = if own { ("You missed", "You may be sent to") } else { ("Missed", "May be sent to") };
    let mut said = String::new();
    if !open.is_empty() {
        said = format!("{missed} a mandatory safety question in: {open}. It is closed by passing again. ");
    }
    said + &if held.is_empty() {
        if own {
            "You are not qualified for anything yet.".to_owned()
        } else {
            "Not qualified for anything now.".to_owned()
        }
    } else {
        format!("{holds} work that needs: {held}.")
    }
}
