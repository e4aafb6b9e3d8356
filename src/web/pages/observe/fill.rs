//! `/observe/{id}`: the checklist while it is filled in, each step a form of its own that is saved by itself.

use super::finished::{Seen, finished};
use super::{assessor, number};
use crate::actions::observe::{StepSaved, mark_step};
use crate::domain::examination::observation::{Checklist, FrozenCaution, ListStep, Mark, Marked};
use crate::domain::visible::says_something;
use crate::store::observations::{self, KeptStep, Observation};
use crate::store::people;
use crate::web::dates::time_of_day;
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::http::header::ACCEPT;
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/observe/fill.html";
/// The longest remark, in characters.
const LONGEST_REMARK: usize = 500;

/// A caution as the templates take it.
#[derive(Serialize)]
pub(super) struct CautionCard {
    signal: &'static str,
    what: String,
    consequence: String,
    avoid: String,
}

impl From<&FrozenCaution> for CautionCard {
    fn from(of: &FrozenCaution) -> Self {
        let (what, consequence, avoid) = (of.what.clone(), of.consequence.clone(), of.avoid.clone());
        Self { signal: of.signal.word(), what, consequence, avoid }
    }
}

/// A mark that can be chosen.
#[derive(Serialize)]
struct MarkChoice {
    value: &'static str,
    text: &'static str,
    chosen: bool,
}

/// One step as it is drawn, while it is filled in and afterwards.
#[derive(Serialize)]
pub(super) struct StepCard {
    position: i32,
    action: String,
    reason: String,
    critical: bool,
    cautions: Vec<CautionCard>,
    choices: Vec<MarkChoice>,
    /// How it was marked, in words.
    pub(super) mark: Option<&'static str>,
    remark: String,
    saved: Option<String>,
}

impl StepCard {
    /// Shows what was sent for the step and could not be taken, in place of what is saved.
    fn take_back(&mut self, fields: &Fields) {
        for choice in &mut self.choices {
            choice.chosen = choice.value == fields.typed("mark");
        }
        fields.typed("remark").clone_into(&mut self.remark);
        self.saved = None;
    }
}

/// The steps of a list with what was saved for them.
pub(super) fn step_cards(list: &Checklist, kept: &[KeptStep], zone: &str) -> Result<Vec<StepCard>, PageError> {
    let card = |(position, step): (i32, &ListStep)| {
        let kept = kept.iter().find(|kept| kept.position == position);
        let mark = kept.map(|kept| kept.marked.mark);
        let choices = Mark::ALL.into_iter().filter(|mark| !(step.critical && *mark == Mark::NotApplicable));
        let cautions = step.hazards.iter().filter_map(|hazard| list.caution(*hazard));
        Ok(StepCard {
            position,
            action: step.action.clone(),
            reason: step.reason.clone(),
            critical: step.critical,
            cautions: cautions.map(CautionCard::from).collect(),
            choices: choices
                .map(|choice| MarkChoice { value: choice.id(), text: choice.name(), chosen: mark == Some(choice) })
                .collect(),
            mark: mark.map(Mark::name),
            remark: kept.map(|kept| kept.marked.remark.clone()).unwrap_or_default(),
            saved: kept.map(|kept| time_of_day(kept.saved_at, zone)).transpose()?,
        })
    };
    (1..).zip(&list.steps).map(card).collect()
}

#[derive(Serialize)]
struct Fill {
    page: Page,
    id: i64,
    person: String,
    machine: String,
    task: &'static str,
    cautions: Vec<CautionCard>,
    steps: Vec<StepCard>,
}

/// The checklist; once it is signed, or for whoever is not its assessor, the sheet as it stands.
///
/// # Errors
/// The reader's branch has no such observation, or the program cannot do it now.
pub async fn show(app: web::Data<App>, reader: SignedIn, id: web::Path<String>) -> Result<HttpResponse, PageError> {
    let of = observations::by_id(&app.deeds.db, reader.branch, number(&id)?).await?;
    if of.person_id == reader.person {
        // Their own is in their record, once it is signed.
        return Err(PageError::NotFound);
    }
    let signed = observations::find_signed(&app.deeds.db, of.id).await?;
    if signed.is_some() || of.assessor_id != reader.person {
        return finished(&app, &reader, &of, Seen::AtTheBranch).await;
    }
    reply::page(&app, TEMPLATE, &fill(&app, &reader, &of, Vec::new()).await?)
}

/// Where a link to one step leads: to the list, at that step.
///
/// # Errors
/// Never.
pub async fn step(_: SignedIn, path: web::Path<(String, String)>) -> Result<HttpResponse, PageError> {
    let (id, position) = path.into_inner();
    let position: i32 = position.parse().map_err(|_| PageError::NotFound)?;
    Ok(reply::see_other(&format!("/observe/{}#step-{position}", number(&id)?)))
}

/// Saves one step: by a script, which is told when; by the form, which goes on to the next step.
///
/// # Errors
/// There is no such step of the reader's own, or the program cannot do it now.
pub async fn save(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    path: web::Path<(String, String)>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let (id, position) = path.into_inner();
    let (id, position) = (number(&id)?, position.parse::<i32>().map_err(|_| PageError::NotFound)?);
    let by_script = request.headers().get(ACCEPT).is_some_and(|accept| accept.as_bytes() == b"application/json");
    let mut form = Reader::new(&fields);
    let mark = form.line("mark", |typed| Mark::from_id(typed).ok_or("Choose how the step was done."));
    let remark = form.lines("remark", |typed| match typed.trim() {
        text if !says_something(text) => Ok(String::new()),
        text if text.chars().count() > LONGEST_REMARK => Err("This remark is too long. Keep it under 500 characters."),
        text => Ok(text.to_owned()),
    });
    let (Some(mark), Some(remark)) = (mark, remark) else {
        if by_script {
            return Ok(HttpResponse::UnprocessableEntity().finish());
        }
        let of = observations::by_id(&app.deeds.db, reader.branch, id).await?;
        if of.assessor_id != reader.person {
            return Err(PageError::NotFound);
        }
        let at_the_step = |error: FieldError| FieldError { field: format!("step-{position}"), ..error };
        let errors = form.into_errors().into_iter().map(at_the_step).collect();
        let mut again = fill(&app, &reader, &of, errors).await?;
        if let Some(step) = again.steps.iter_mut().find(|step| step.position == position) {
            step.take_back(&fields);
        }
        return reply::form_again(&app, TEMPLATE, &again);
    };
    match mark_step(&app.deeds, assessor(&reader), id, position, &Marked { mark, remark }).await? {
        StepSaved::Saved(at) if by_script => {
            Ok(HttpResponse::Ok().json(serde_json::json!({ "saved": time_of_day(at, &reader.time_zone)? })))
        }
        StepSaved::Saved(_) => Ok(reply::see_other(&format!("/observe/{id}#step-{}", position + 1))),
        StepSaved::Signed if by_script => Ok(HttpResponse::Gone().finish()),
        StepSaved::Signed => Err(PageError::Signed),
    }
}

async fn fill(app: &App, reader: &SignedIn, of: &Observation, errors: Vec<FieldError>) -> Result<Fill, PageError> {
    let (db, list) = (&app.deeds.db, of.list()?);
    let mut page = reader.page(of.task.name(), "/observe");
    page.errors = errors;
    Ok(Fill {
        page,
        id: of.id.0,
        person: people::by_id(db, of.person_id).await?.display_name,
        machine: list.machine_name.clone(),
        task: of.task.name(),
        cautions: list.cautions.iter().map(CautionCard::from).collect(),
        steps: step_cards(&list, &observations::steps(db, of.id).await?, &reader.time_zone)?,
    })
}
