//! `/examine/sitting/{id}/result`: how it came out, competence by competence, and every miss explained.

use super::{own_examination, thawed, title_of};
use crate::actions::read_answer;
use crate::domain::examination::outcome::Outcome;
use crate::store::attempts::{self, Attempt};
use crate::store::incidents::{self, IncidentKind};
use crate::store::{StoreError, debriefs};
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::question_card::explained::Explained;
use crate::web::question_card::{Given, QuestionCard};
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct Part {
    name: String,
    mandatory: bool,
    right: String,
    asked: usize,
    interval: Option<String>,
    needed_percent: f64,
    passed: bool,
}

/// A question that was not answered rightly.
#[derive(Serialize)]
struct Miss {
    position: i32,
    competence: String,
    mandatory: bool,
    card: QuestionCard,
    explained: Explained,
}

#[derive(Serialize)]
struct ResultPage {
    page: Page,
    heading: String,
    zone: String,
    passed: bool,
    by_clock: bool,
    /// Why whoever watched ended it, when they did.
    ended: Option<String>,
    right: String,
    asked: usize,
    interval: Option<String>,
    needed_percent: f64,
    submitted_at: i64,
    parts: Vec<Part>,
    safety_misses: Vec<u32>,
    debrief_held: bool,
    misses: Vec<Miss>,
}

/// The result, once there is one; before that, the sitting goes on.
///
/// # Errors
/// There is no such examination of the reader's own, or the program cannot do it now.
pub async fn show(app: web::Data<App>, reader: SignedIn, id: web::Path<String>) -> Result<HttpResponse, PageError> {
    let attempt = own_examination(&app, reader.person, &id).await?;
    let Some(result) = attempts::find_result(&app.deeds.db, attempt.id).await? else {
        return Ok(reply::see_other(&format!("/examine/sitting/{}/1", attempt.id)));
    };
    let outcome: Outcome = serde_json::from_str(&result.outcome)
        .map_err(|error| StoreError::Corrupt(format!("an outcome does not read back: {error}")))?;
    let read = app.deeds.bank.now();
    let named = |id: &str| read.bank.competence(id).map_or_else(|| id.to_owned(), |found| found.name.clone());
    let parts = outcome.parts.iter().map(|part| Part {
        name: named(&part.competence),
        mandatory: read.bank.competence(&part.competence).is_some_and(|found| found.mandatory),
        right: part.earned(),
        asked: part.asked,
        interval: part.interval(),
        needed_percent: part.cut_percent,
        passed: part.passed,
    });
    let mut ended = incidents::of_attempts(&app.deeds.db, &[attempt.id]).await?.into_iter();
    let page = ResultPage {
        page: reader.page(if outcome.passed { "Passed" } else { "Not passed" }, "/examine"),
        heading: title_of(&app, &attempt),
        zone: reader.time_zone.clone(),
        passed: outcome.passed,
        by_clock: attempt.is_by_the_clock(),
        ended: ended.find(|incident| incident.kind == IncidentKind::Ended).map(|incident| incident.text),
        right: outcome.earned(),
        asked: outcome.asked,
        interval: outcome.interval(),
        needed_percent: outcome.cut_percent,
        submitted_at: attempt.submitted_at.map_or(result.graded_at.0, |at| at.0),
        parts: parts.collect(),
        safety_misses: outcome.safety_misses.clone(),
        debrief_held: debriefs::find_of_attempt(&app.deeds.db, attempt.id).await?.is_some(),
        misses: misses(&app, &attempt, named).await?,
    };
    reply::page(&app, "pages/examine/result.html", &page)
}

/// Every question that was not answered rightly, the mandatory ones first.
async fn misses(app: &App, attempt: &Attempt, named: impl Fn(&str) -> String) -> Result<Vec<Miss>, PageError> {
    let db = &app.deeds.db;
    let grades = attempts::grades(db, attempt.id).await?;
    let responses = attempts::responses(db, attempt.id).await?;
    let mut misses = Vec::new();
    for asked in attempts::questions(db, attempt.id).await? {
        if grades.iter().any(|grade| grade.position == asked.position && grade.correct) {
            continue;
        }
        let question = thawed(&asked)?;
        let saved = responses.iter().find(|response| response.position == asked.position);
        let answer = saved.map(read_answer).transpose()?;
        misses.push(Miss {
            position: asked.position,
            competence: named(&question.competence),
            mandatory: question.mandatory,
            card: QuestionCard::new(&question.shown, &answer.as_ref().map(Given::saved).unwrap_or_default()),
            explained: Explained::new(&question, answer.as_ref()),
        });
    }
    misses.sort_by_key(|miss| !miss.mandatory);
    Ok(misses)
}
