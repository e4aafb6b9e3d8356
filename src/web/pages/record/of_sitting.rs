//! A graded sitting as it is kept: for the person to learn from, for an auditor to check.

use super::events::{competence_name, scheme_title, score};
use super::frozen::FrozenQuestion;
use super::of_person::Seen;
use super::watched::incidents_in;
use crate::domain::bank::Bank;
use crate::domain::units::plain_number;
use crate::store::people::Person;
use crate::store::read::sitting::{Sitting, graded};
use crate::store::{AttemptId, PersonId};
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::HttpResponse;
use serde::Serialize;

#[derive(Serialize)]
struct Part {
    name: String,
    right: String,
    asked: usize,
    interval: Option<String>,
    cut: String,
    passed: bool,
}

#[derive(Serialize)]
struct Held {
    at: i64,
    by: String,
    note: String,
}

#[derive(Serialize)]
struct EntryRow {
    id: i64,
    at: i64,
    deed: String,
    by: String,
    hash: String,
}

#[derive(Serialize)]
struct SittingPage {
    page: Page,
    number: i64,
    own: bool,
    name: String,
    back: String,
    scheme: String,
    scheme_version: i32,
    passed: bool,
    score: String,
    interval: Option<String>,
    misses: Vec<String>,
    by_the_clock: bool,
    /// What whoever watched wrote down.
    incidents: Vec<String>,
    started_at: i64,
    submitted_at: Option<i64>,
    graded_at: i64,
    parts: Vec<Part>,
    decided: Vec<String>,
    debrief: Option<Held>,
    questions: Vec<FrozenQuestion>,
    seed_sha256: String,
    entries: Vec<EntryRow>,
    zone: String,
}

/// Draws a person's graded sitting.
pub(in crate::web::pages) async fn sitting_page(
    app: &App,
    reader: &SignedIn,
    person: Person,
    attempt: AttemptId,
    seen: Seen,
) -> Result<HttpResponse, PageError> {
    let in_use = app.deeds.bank.now();
    let bank = &in_use.bank;
    let sitting = graded(&app.deeds.db, person.id, attempt).await?;
    let scheme = scheme_title(bank, Some(&sitting.scheme_key));
    let own = seen == Seen::ByThemselves;
    let title = if own { scheme.clone() } else { format!("{scheme}: {}", person.display_name) };
    let context = SittingPage {
        page: reader.page(&title, seen.place()),
        number: attempt.0,
        own,
        back: seen.record(person.id),
        scheme,
        scheme_version: sitting.scheme_version,
        passed: sitting.outcome.passed,
        score: score(&sitting.outcome),
        interval: sitting.outcome.interval(),
        misses: misses(&sitting, bank),
        by_the_clock: sitting.by_the_clock,
        incidents: incidents_in(app, &reader.time_zone, attempt).await?,
        started_at: sitting.started_at.0,
        submitted_at: sitting.submitted_at.map(|at| at.0),
        graded_at: sitting.graded_at.0,
        parts: parts(&sitting, bank),
        decided: sitting.decided.iter().map(|found| found.entry.reason.clone()).collect(),
        entries: entries(&sitting, &person),
        debrief: sitting.debrief.as_ref().map(|(held, by)| Held {
            at: held.held_at.0,
            by: by.clone(),
            note: held.note.clone(),
        }),
        questions: sitting.questions.iter().map(|asked| FrozenQuestion::of(asked, bank)).collect(),
        seed_sha256: sitting.seed_sha256,
        name: person.display_name,
        zone: reader.time_zone.clone(),
    };
    reply::page(app, "pages/record/sitting.html", &context)
}

/// The mandatory safety questions that were missed, in words.
fn misses(sitting: &Sitting, bank: &Bank) -> Vec<String> {
    let missed = sitting.questions.iter().filter(|asked| asked.question.mandatory && !asked.correct);
    let words = missed.map(|asked| {
        let name = competence_name(bank, &asked.question.competence);
        format!("Question {}, {name}: \u{201c}{}\u{201d}", asked.position, asked.question.shown.prompt)
    });
    words.collect()
}

fn parts(sitting: &Sitting, bank: &Bank) -> Vec<Part> {
    let part = |part: &crate::domain::examination::outcome::PartOutcome| Part {
        name: competence_name(bank, &part.competence),
        right: part.earned(),
        asked: part.asked,
        interval: part.interval(),
        cut: plain_number(part.cut_percent),
        passed: part.passed,
    };
    sitting.outcome.parts.iter().map(part).collect()
}

fn entries(sitting: &Sitting, person: &Person) -> Vec<EntryRow> {
    let by = |actor: Option<PersonId>| match (actor, &sitting.debrief) {
        (None, _) => "the program".to_owned(),
        (Some(actor), _) if actor == person.id => person.display_name.clone(),
        (Some(actor), Some((held, name))) if actor == held.trainer_id => name.clone(),
        (Some(actor), _) => format!("person {actor}"),
    };
    let row = |entry: &crate::store::record::RecordEntry| EntryRow {
        id: entry.id.0,
        at: entry.at.0,
        deed: entry.deed.replace('_', " "),
        by: by(entry.actor_id),
        hash: entry.hash.clone(),
    };
    sitting.entries.iter().map(row).collect()
}
