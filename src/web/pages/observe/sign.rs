//! `/observe/{id}/review` and `/sign`: the last look at every step, and both passwords on the assessor's device.
//!
//! Never writes a password back into a page.

use super::fill::{StepCard, step_cards};
use super::finished::why;
use super::{assessor, number};
use crate::actions::sign_observation::{Passwords, Signer, Signing, sign_observation};
use crate::domain::examination::observation::{Checklist, Open};
use crate::store::observations::{self, KeptStep, Observation, in_order};
use crate::store::people;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/observe/review.html";

#[derive(Serialize)]
struct OpenRow {
    position: usize,
    says: &'static str,
}

#[derive(Serialize)]
struct Review {
    page: Page,
    id: i64,
    person: String,
    assessor: String,
    machine: String,
    task: &'static str,
    open: Vec<OpenRow>,
    /// What it will come to; none while something is open.
    passed: Option<bool>,
    why: Vec<String>,
    steps: Vec<StepCard>,
}

/// The review.
///
/// # Errors
/// The reader has no such observation, or the program cannot do it now.
pub async fn review(app: web::Data<App>, reader: SignedIn, id: web::Path<String>) -> Result<HttpResponse, PageError> {
    let of = own(&app, &reader, &id).await?;
    if observations::find_signed(&app.deeds.db, of.id).await?.is_some() {
        return Ok(reply::see_other(&format!("/observe/{}", of.id)));
    }
    reply::page(&app, TEMPLATE, &read(&app, &reader, &of, Vec::new()).await?)
}

/// Signs for both.
///
/// # Errors
/// The reader has no such observation, or the program cannot do it now.
pub async fn sign(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<String>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let id = number(&id)?;
    let (assessors, candidates) = ("assessor_password", "candidate_password");
    let typed = Passwords { assessor: fields.typed(assessors), candidate: fields.typed(candidates) };
    let wrong = |field: &str, message: String| FieldError { field: field.to_owned(), message };
    let error = match sign_observation(&app.deeds, assessor(&reader), id, typed).await? {
        Signing::Done(_) => return Ok(reply::see_other(&format!("/observe/{id}"))),
        Signing::Open(_) => wrong("open", "Not signed: some steps are still open.".to_owned()),
        Signing::Wrong(Signer::Assessor) => {
            wrong(assessors, "Not signed: the assessor's password is not right. Nothing was changed.".to_owned())
        }
        Signing::Wrong(Signer::Candidate) => {
            wrong(candidates, "Not signed: the candidate's password is not right. Nothing was changed.".to_owned())
        }
        Signing::Wait(seconds) => wrong(
            assessors,
            format!("Not signed: a password was wrong several times. Wait {seconds} s, then try again."),
        ),
    };
    let of = observations::by_id(&app.deeds.db, reader.branch, id).await?;
    reply::form_again(&app, TEMPLATE, &read(&app, &reader, &of, vec![error]).await?)
}

async fn own(app: &App, reader: &SignedIn, id: &str) -> Result<Observation, PageError> {
    let of = observations::by_id(&app.deeds.db, reader.branch, number(id)?).await?;
    if of.assessor_id == reader.person { Ok(of) } else { Err(PageError::NotFound) }
}

async fn read(app: &App, reader: &SignedIn, of: &Observation, errors: Vec<FieldError>) -> Result<Review, PageError> {
    let (db, list) = (&app.deeds.db, of.list()?);
    let kept = observations::steps(db, of.id).await?;
    let outcome = list.outcome(&in_order(&list, &kept));
    let mut page = reader.page(&format!("Sign: {}", of.task.name()), "/observe");
    page.errors = errors;
    Ok(Review {
        page,
        id: of.id.0,
        person: people::by_id(db, of.person_id).await?.display_name,
        assessor: reader.name.clone(),
        machine: list.machine_name.clone(),
        task: of.task.name(),
        open: open_rows(&list, &kept),
        passed: outcome.as_ref().map(|outcome| outcome.passed),
        why: outcome.as_ref().map(why).unwrap_or_default(),
        steps: step_cards(&list, &kept, &reader.time_zone)?,
    })
}

fn open_rows(list: &Checklist, kept: &[KeptStep]) -> Vec<OpenRow> {
    let row = |open: Open| match open {
        Open::Unmarked(position) => OpenRow { position, says: "nothing is marked" },
        Open::NoReason(position) => OpenRow { position, says: "say in the remark why it does not apply" },
        Open::CriticalLeftOut(position) => OpenRow { position, says: "a critical step always applies" },
    };
    list.open(&in_order(list, kept)).into_iter().map(row).collect()
}
