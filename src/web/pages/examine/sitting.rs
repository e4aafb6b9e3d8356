//! `/examine/sitting/{id}/{position}`: one question a page, each answer saved on its own, flagged for later or not.

use super::{no_stranger, note_made_up, own_examination, own_question, thawed, title_of};
use crate::actions::flag_question::flag_question;
use crate::actions::save_answer::{AnswerSaved, save_to};
use crate::domain::examination::extra_time::{warning, warnings};
use crate::domain::units::Moment;
use crate::store::attempts::{AtPlace, Attempt, AttemptState, Place};
use crate::web::dates::time_of_day;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::question_card::{Given, QuestionCard, wrong};
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::http::header::ACCEPT;
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const QUESTION: &str = "pages/examine/question.html";
const CLOSED: &str = "pages/examine/closed.html";

/// A question in the row of all.
#[derive(Serialize)]
pub(super) struct InRow {
    pub(super) position: i32,
    /// Nothing while the part of the case before it is not answered.
    pub(super) href: Option<String>,
    pub(super) answered: bool,
    pub(super) flagged: bool,
    current: bool,
}

/// How long there is still.
#[derive(Serialize)]
pub(super) struct Deadline {
    seconds_left: i64,
    text: String,
    /// At how many seconds before the end the page warns, for the script.
    warnings: String,
    /// What is said now, near the end.
    #[serde(skip)]
    pub(super) warning: Option<String>,
}

#[derive(Serialize)]
struct QuestionPage {
    page: Page,
    heading: String,
    action: String,
    card: QuestionCard,
    position: usize,
    total: usize,
    row: Vec<InRow>,
    before: Option<String>,
    review: String,
    saved: Option<String>,
    /// Whether it is flagged for later.
    flagged: bool,
    /// Whether the next part of the case fixes this answer, once it is saved.
    fixes: bool,
    /// The next part of the case, once this answer is fixed.
    fixed: Option<String>,
    deadline: Option<Deadline>,
}

/// One question with what was saved for it.
///
/// # Errors
/// There is no such question of the reader's own, or the program cannot do it now.
pub async fn question(
    app: web::Data<App>,
    reader: SignedIn,
    path: web::Path<(String, String)>,
) -> Result<HttpResponse, PageError> {
    let (id, position) = path.into_inner();
    let position = place(&position)?;
    let at = own_question(&app, reader.person, &id, position).await?;
    if let Some(over) = over(&app, &reader, &at.attempt)? {
        return Ok(over);
    }
    if waits(&at.places, position) {
        return Err(PageError::TooEarly);
    }
    reply::page(&app, QUESTION, &question_page(&app, &reader, &at, (None, Vec::new()))?)
}

/// Saves the answer to one question: by a script, which is told when; by the form, which goes on to the next question.
///
/// # Errors
/// There is no such question of the reader's own, or the program cannot do it now.
pub async fn save(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    path: web::Path<(String, String)>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let (id, position) = path.into_inner();
    let position = place(&position)?;
    let by_script = request.headers().get(ACCEPT).is_some_and(|accept| accept.as_bytes() == b"application/json");
    let own = own_question(&app, reader.person, &id, position).await;
    let at = no_stranger(&app, reader.person, &id, own).await?;
    note_made_up(&app, &at.attempt, &fields).await?;
    let shown = thawed(&at.asked)?.shown;
    let given = Given::sent(&shown, &fields);
    let saved = save_to(&app.deeds, &at.attempt, &at.asked, &given.answer(shown.kind)).await?;
    if matches!(saved, AnswerSaved::Saved(_)) {
        app.metrics.answer_saved();
    }
    match saved {
        AnswerSaved::Saved(at) if by_script => {
            Ok(HttpResponse::Ok().json(serde_json::json!({ "saved": time_of_day(at, &reader.time_zone)? })))
        }
        AnswerSaved::Saved(_) => Ok(reply::see_other(&next(&at))),
        AnswerSaved::Closed if by_script => Ok(HttpResponse::Gone().finish()),
        AnswerSaved::Closed => {
            let closed = own_examination(&app, reader.person, &id).await?;
            reply::gone(&app, CLOSED, &closed_page(&app, &reader, &closed, "Not saved: too late"))
        }
        AnswerSaved::TooEarly | AnswerSaved::Fixed if by_script => Ok(HttpResponse::Conflict().finish()),
        AnswerSaved::TooEarly => Err(PageError::TooEarly),
        AnswerSaved::Fixed => Err(PageError::Fixed),
        AnswerSaved::NotAnAnswer(_) if by_script => Ok(HttpResponse::UnprocessableEntity().finish()),
        AnswerSaved::NotAnAnswer(not) => {
            let errors = vec![wrong(shown.kind, &not)];
            if waits(&at.places, position) {
                return Err(PageError::TooEarly);
            }
            reply::form_again(&app, QUESTION, &question_page(&app, &reader, &at, (Some(given), errors))?)
        }
    }
}

/// Flags a question for later, or takes the flag off. An answer that stood on the page comes back on it, not saved.
///
/// # Errors
/// There is no such question of the reader's own, or the program cannot do it now.
pub async fn flag(
    app: web::Data<App>,
    reader: SignedIn,
    path: web::Path<(String, String)>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let (id, position) = path.into_inner();
    let position = place(&position)?;
    let flagged = match fields.typed("flag") {
        "yes" => true,
        "no" => false,
        _ => return Err(PageError::Malformed("a flag that is neither yes nor no")),
    };
    let own = own_question(&app, reader.person, &id, position).await;
    let mut at = no_stranger(&app, reader.person, &id, own).await?;
    if waits(&at.places, position) {
        return Err(PageError::TooEarly);
    }
    if !flag_question(&app.deeds, reader.person, at.attempt.id, position, flagged).await? {
        let closed = own_examination(&app, reader.person, &id).await?;
        return reply::gone(&app, CLOSED, &closed_page(&app, &reader, &closed, "Not flagged: too late"));
    }
    let given = Given::sent(&thawed(&at.asked)?.shown, &fields);
    let saved = at.saved.as_ref();
    let fixed = saved.is_some() && at.asked.question.is_followed();
    let same = saved.map(crate::actions::read_answer).transpose()?.is_some_and(|saved| Given::saved(&saved) == given);
    if fixed || same || given.is_nothing() {
        return Ok(reply::see_other(&format!("/examine/sitting/{}/{position}", at.attempt.id)));
    }
    if let Some(place) = at.places.iter_mut().find(|place| place.position == position) {
        place.flagged = flagged;
    }
    let word = if flagged { "Flagged" } else { "No longer flagged" };
    let mut page = question_page(&app, &reader, &at, (Some(given), Vec::new()))?;
    page.page.notice =
        Some(format!("{word}. The answer on this page is not saved yet: save it with the button below."));
    reply::page(&app, QUESTION, &page)
}

fn question_page(
    app: &App,
    reader: &SignedIn,
    at: &AtPlace,
    (typed, errors): (Option<Given>, Vec<FieldError>),
) -> Result<QuestionPage, PageError> {
    let AtPlace { attempt, asked, saved, places } = at;
    let (position, total) = (asked.position, places.len());
    let given = match (typed, saved) {
        (Some(typed), _) => typed,
        (None, Some(saved)) => Given::saved(&crate::actions::read_answer(saved)?),
        (None, None) => Given::default(),
    };
    let heading = title_of(app, attempt);
    let deadline = deadline(attempt, app.deeds.clock.now());
    let mut page = reader.page(&format!("Question {position} of {total}, {heading}"), "/examine");
    page.errors = errors;
    page.notice = deadline.as_ref().and_then(|deadline| deadline.warning.clone());
    let address = |position: i32| format!("/examine/sitting/{}/{position}", attempt.id);
    Ok(QuestionPage {
        page,
        heading,
        action: address(position),
        card: QuestionCard::new(&thawed(asked)?.shown, &given),
        position: usize::try_from(position).unwrap_or_default(),
        total,
        row: row(attempt, places, position),
        flagged: places.iter().any(|place| place.position == position && place.flagged),
        before: (position > 1).then(|| address(position - 1)),
        review: format!("/examine/sitting/{}/review", attempt.id),
        saved: saved
            .as_ref()
            .map(|saved| time_of_day(saved.saved_at, &reader.time_zone))
            .transpose()?
            .map(|at| format!("Saved {at}")),
        fixes: asked.question.is_followed(),
        fixed: saved.as_ref().filter(|_| asked.question.is_followed()).map(|_| address(position + 1)),
        deadline,
    })
}

/// Whether a place holds a later part of a case, and the part before it is not answered.
fn waits(places: &[Place], position: i32) -> bool {
    let answered = |position: i32| places.iter().any(|place| place.position == position && place.answered);
    places.iter().any(|place| place.position == position && place.follows) && !answered(position - 1)
}

/// A question's place as it stands in an address.
fn place(text: &str) -> Result<i32, PageError> {
    text.parse().map_err(|_| PageError::NotFound)
}

pub(super) fn row(attempt: &Attempt, places: &[Place], current: i32) -> Vec<InRow> {
    let in_row = |place: &Place| InRow {
        position: place.position,
        href: (!waits(places, place.position)).then(|| format!("/examine/sitting/{}/{}", attempt.id, place.position)),
        answered: place.answered,
        flagged: place.flagged,
        current: place.position == current,
    };
    places.iter().map(in_row).collect()
}

/// The next question, or the review after the last.
fn next(at: &AtPlace) -> String {
    let last = at.places.iter().all(|place| place.position <= at.asked.position);
    let to = if last { "review".to_owned() } else { (at.asked.position + 1).to_string() };
    format!("/examine/sitting/{}/{to}", at.attempt.id)
}

pub(super) fn deadline(attempt: &Attempt, now: Moment) -> Option<Deadline> {
    let (deadline, limit_s) = (attempt.deadline_at?, attempt.limit_s()?);
    // A clock that was put back gives nobody more than the whole time.
    let seconds_left = deadline.seconds_since(now).clamp(0, limit_s.max(0));
    let text = match seconds_left {
        0 => "Time is over".to_owned(),
        1..60 => "Less than 1 min left".to_owned(),
        more => format!("{} min left", more / 60),
    };
    let warnings = warnings(limit_s).map(|mark| mark.to_string()).join(" ");
    Some(Deadline { seconds_left, text, warnings, warning: warning(limit_s, seconds_left) })
}

#[derive(Serialize)]
struct Closed {
    page: Page,
    heading: String,
    result: Option<String>,
}

/// Where to go instead when a sitting is over: to its result, or, until the clock has graded it, to a page that says so.
pub(super) fn over(app: &App, reader: &SignedIn, attempt: &Attempt) -> Result<Option<HttpResponse>, PageError> {
    if attempt.state != AttemptState::Open {
        return Ok(Some(reply::see_other(&result(attempt))));
    }
    if attempt.is_overdue(app.deeds.clock.now()) {
        return Ok(Some(reply::gone(app, CLOSED, &closed_page(app, reader, attempt, "Time is over"))?));
    }
    Ok(None)
}

/// What somebody is told who comes too late.
fn closed_page(app: &App, reader: &SignedIn, attempt: &Attempt, title: &str) -> Closed {
    Closed {
        page: reader.page(title, "/examine"),
        heading: title_of(app, attempt),
        result: (attempt.state != AttemptState::Open).then(|| result(attempt)),
    }
}

pub(super) fn result(attempt: &Attempt) -> String {
    format!("/examine/sitting/{}/result", attempt.id)
}
