//! The sheet of an observation: who watched whom, every step as it was marked, what it came to and why; on screen and on paper.
//!
//! Shows the person their own only once it is signed.

use super::fill::{CautionCard, StepCard, step_cards};
use super::number;
use crate::domain::examination::observation::Outcome;
use crate::store::observations::{self, Observation, Signed};
use crate::store::{PersonId, people};
use crate::web::dates::day_and_time;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

/// From where the sheet is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Seen {
    /// By an assessor of the branch.
    AtTheBranch,
    /// By the person, in their record.
    ByThemselves,
    /// By a service manager, in the person's record.
    ByAManager,
}

#[derive(Serialize)]
struct Finished {
    page: Page,
    number: i64,
    person: String,
    assessor: String,
    task: &'static str,
    machine: String,
    machine_version: i32,
    opened: String,
    signed: Option<String>,
    entry: Option<i64>,
    /// What it came to, in words.
    verdict: &'static str,
    why: Vec<String>,
    cautions: Vec<CautionCard>,
    steps: Vec<StepCard>,
}

/// One of the reader's own, signed.
///
/// # Errors
/// The reader has no such signed observation, or the program cannot do it now.
pub async fn own(app: web::Data<App>, reader: SignedIn, id: web::Path<String>) -> Result<HttpResponse, PageError> {
    let of = observations::by_id_of_anyone(&app.deeds.db, number(&id)?).await?;
    let signed = observations::find_signed(&app.deeds.db, of.id).await?.is_some();
    if of.person_id != reader.person || !signed {
        return Err(PageError::NotFound);
    }
    finished(&app, &reader, &of, Seen::ByThemselves).await
}

/// One of a person's, for a service manager.
///
/// # Errors
/// The person has no such observation, or the program cannot do it now.
pub async fn of_person(
    app: web::Data<App>,
    reader: SignedIn,
    path: web::Path<(i64, String)>,
) -> Result<HttpResponse, PageError> {
    let (person, id) = path.into_inner();
    let of = observations::by_id_of_anyone(&app.deeds.db, number(&id)?).await?;
    if of.person_id != PersonId(person) {
        return Err(PageError::NotFound);
    }
    finished(&app, &reader, &of, Seen::ByAManager).await
}

/// Draws the sheet.
pub(super) async fn finished(
    app: &App,
    reader: &SignedIn,
    of: &Observation,
    seen: Seen,
) -> Result<HttpResponse, PageError> {
    let (db, list, zone) = (&app.deeds.db, of.list()?, &reader.time_zone);
    let signed = observations::find_signed(db, of.id).await?;
    let place = match seen {
        Seen::AtTheBranch => "/observe",
        Seen::ByThemselves => "/record",
        Seen::ByAManager => "/qualified",
    };
    let context = Finished {
        page: reader.page(of.task.name(), place),
        number: of.id.0,
        person: people::by_id(db, of.person_id).await?.display_name,
        assessor: people::by_id(db, of.assessor_id).await?.display_name,
        task: of.task.name(),
        machine: list.machine_name.clone(),
        machine_version: of.machine_version,
        opened: day_and_time(of.opened_at, zone)?,
        signed: signed.as_ref().map(|signed| day_and_time(signed.signed_at, zone)).transpose()?,
        entry: signed.as_ref().map(|signed| signed.record_entry_id.0),
        verdict: verdict(signed.as_ref()),
        why: signed.map(|signed| why(&signed.outcome)).unwrap_or_default(),
        cautions: list.cautions.iter().map(CautionCard::from).collect(),
        steps: step_cards(&list, &observations::steps(db, of.id).await?, zone)?,
    };
    reply::page(app, "pages/observe/finished.html", &context)
}

const fn verdict(signed: Option<&Signed>) -> &'static str {
    match signed {
        None => "open",
        Some(signed) if signed.outcome.passed => "passed",
        Some(_) => "not passed",
    }
}

/// Why it came out as it did, one sentence each.
pub(super) fn why(outcome: &Outcome) -> Vec<String> {
    let mut why: Vec<String> = Vec::new();
    let steps = |places: &[usize]| places.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
    if !outcome.missed_critical.is_empty() {
        let missed = steps(&outcome.missed_critical);
        why.push(format!("A critical step was not seen (step {missed}). That alone means not passed."));
    }
    if !outcome.missed.is_empty() {
        why.push(format!("Not seen, and not critical: step {}.", steps(&outcome.missed)));
        if outcome.missed_critical.is_empty() && !outcome.passed {
            why.push("That is more than one in five of these steps: not passed.".to_owned());
        }
    }
    if !outcome.left_out.is_empty() {
        why.push(format!("Did not apply: step {}.", steps(&outcome.left_out)));
    }
    why
}
