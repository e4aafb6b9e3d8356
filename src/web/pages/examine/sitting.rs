//! `/examine/sitting/...`: one question a page, each answer saved on its own, then handed in once.

use super::{own_examination, own_question, thawed, title_of};
use crate::actions::Token;
use crate::actions::save_answer::{AnswerSaved, save_answer};
use crate::actions::submit_examination::submit_examination;
use crate::domain::units::Moment;
use crate::store::attempts::{self, Attempt, AttemptQuestion, AttemptState, Place};
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
struct InRow {
    position: i32,
    /// Nothing while the part of the case before it is not answered.
    href: Option<String>,
    answered: bool,
    current: bool,
}

/// How long there is still.
#[derive(Serialize)]
struct Deadline {
    seconds_left: i64,
    text: String,
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
    /// Whether the next part of the case fixes this answer, once it is saved.
    fixes: bool,
    /// The next part of the case, once this answer is fixed.
    fixed: Option<String>,
    deadline: Option<Deadline>,
}

#[derive(Serialize)]
struct Review {
    page: Page,
    heading: String,
    row: Vec<InRow>,
    open: usize,
    has_cases: bool,
    submit: String,
    key: String,
    back: String,
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
    let (attempt, asked) = own_question(&app, reader.person, &id, position).await?;
    if let Some(over) = over(&app, &reader, &attempt)? {
        return Ok(over);
    }
    let places = attempts::places(&app.deeds.db, attempt.id).await?;
    if waits(&places, position) {
        return Err(PageError::TooEarly);
    }
    let page = question_page(&app, &reader, &attempt, &asked, (None, Vec::new()), &places)?;
    reply::page(&app, QUESTION, &page)
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
    let (attempt, asked) = own_question(&app, reader.person, &id, position).await?;
    let shown = thawed(&asked)?.shown;
    let given = Given::sent(&shown, &fields);
    match save_answer(&app.deeds, reader.person, attempt.id, position, &given.answer(shown.kind)).await? {
        AnswerSaved::Saved(at) if by_script => {
            Ok(HttpResponse::Ok().json(serde_json::json!({ "saved": time_of_day(at, &reader.time_zone)? })))
        }
        AnswerSaved::Saved(_) => Ok(reply::see_other(&next(&app, &attempt, position).await?)),
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
            let places = attempts::places(&app.deeds.db, attempt.id).await?;
            if waits(&places, position) {
                return Err(PageError::TooEarly);
            }
            let page = question_page(&app, &reader, &attempt, &asked, (Some(given), errors), &places)?;
            reply::form_again(&app, QUESTION, &page)
        }
    }
}

/// All questions at a glance, and the button that hands in.
///
/// # Errors
/// There is no such examination of the reader's own, or the program cannot do it now.
pub async fn review(app: web::Data<App>, reader: SignedIn, id: web::Path<String>) -> Result<HttpResponse, PageError> {
    let attempt = own_examination(&app, reader.person, &id).await?;
    if let Some(over) = over(&app, &reader, &attempt)? {
        return Ok(over);
    }
    let places = attempts::places(&app.deeds.db, attempt.id).await?;
    let row = row(&attempt, &places, 0);
    let review = Review {
        page: reader.page("Before you hand in", "/examine"),
        heading: title_of(&app, &attempt),
        open: row.iter().filter(|question| !question.answered).count(),
        has_cases: places.iter().any(|place| place.follows),
        row,
        submit: format!("/examine/sitting/{}/submit", attempt.id),
        key: Token::fresh()?.as_str().to_owned(),
        back: format!("/examine/sitting/{}/1", attempt.id),
        deadline: deadline(&attempt, app.deeds.clock.now()),
    };
    reply::page(&app, "pages/examine/review.html", &review)
}

/// Hands the examination in. Again with the same key, or from another page, changes nothing more.
///
/// # Errors
/// There is no such examination of the reader's own, or the program cannot do it now.
pub async fn submit(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<String>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let attempt = own_examination(&app, reader.person, &id).await?;
    let key = Token::from_text(fields.typed("submit_key")).ok_or(PageError::Malformed("no key to hand in with"))?;
    submit_examination(&app.deeds, reader.person, attempt.id, key.as_str()).await?;
    Ok(reply::see_other(&result(&attempt)))
}

fn question_page(
    app: &App,
    reader: &SignedIn,
    attempt: &Attempt,
    asked: &AttemptQuestion,
    (typed, errors): (Option<Given>, Vec<FieldError>),
    places: &[Place],
) -> Result<QuestionPage, PageError> {
    let (position, total) = (asked.position, places.len());
    let saved = places.iter().find(|place| place.position == position).and_then(|place| place.response.as_ref());
    let given = match (typed, saved) {
        (Some(typed), _) => typed,
        (None, Some(saved)) => Given::saved(&crate::actions::read_answer(saved)?),
        (None, None) => Given::default(),
    };
    let heading = title_of(app, attempt);
    let mut page = reader.page(&format!("Question {position} of {total}, {heading}"), "/examine");
    page.errors = errors;
    let at = |position: i32| format!("/examine/sitting/{}/{position}", attempt.id);
    Ok(QuestionPage {
        page,
        heading,
        action: at(position),
        card: QuestionCard::new(&thawed(asked)?.shown, &given),
        position: usize::try_from(position).unwrap_or_default(),
        total,
        row: row(attempt, places, position),
        before: (position > 1).then(|| at(position - 1)),
        review: format!("/examine/sitting/{}/review", attempt.id),
        saved: saved
            .map(|saved| time_of_day(saved.saved_at, &reader.time_zone))
            .transpose()?
            .map(|at| format!("Saved {at}")),
        fixes: asked.question.is_followed(),
        fixed: saved.filter(|_| asked.question.is_followed()).map(|_| at(position + 1)),
        deadline: deadline(attempt, app.deeds.clock.now()),
    })
}

/// Whether a place holds a later part of a case, and the part before it is not answered.
fn waits(places: &[Place], position: i32) -> bool {
    let answered = |position: i32| places.iter().any(|place| place.position == position && place.response.is_some());
    places.iter().any(|place| place.position == position && place.follows) && !answered(position - 1)
}

/// A question's place as it stands in an address.
fn place(text: &str) -> Result<i32, PageError> {
    text.parse().map_err(|_| PageError::NotFound)
}

fn row(attempt: &Attempt, places: &[Place], current: i32) -> Vec<InRow> {
    let in_row = |place: &Place| InRow {
        position: place.position,
        href: (!waits(places, place.position)).then(|| format!("/examine/sitting/{}/{}", attempt.id, place.position)),
        answered: place.response.is_some(),
        current: place.position == current,
    };
    places.iter().map(in_row).collect()
}

/// The next question, or the review after the last.
async fn next(app: &App, attempt: &Attempt, position: i32) -> Result<String, PageError> {
    let total = attempts::count_questions(&app.deeds.db, attempt.id).await?;
    let last = usize::try_from(position).is_ok_and(|position| position >= total);
    let to = if last { "review".to_owned() } else { (position + 1).to_string() };
    Ok(format!("/examine/sitting/{}/{to}", attempt.id))
}

fn deadline(attempt: &Attempt, now: Moment) -> Option<Deadline> {
    let seconds_left = attempt.deadline_at?.seconds_since(now).max(0);
    let text = match seconds_left {
        0 => "Time is over".to_owned(),
        1..60 => "Less than 1 min left".to_owned(),
        more => format!("{} min left", more / 60),
    };
    Some(Deadline { seconds_left, text })
}

#[derive(Serialize)]
struct Closed {
    page: Page,
    heading: String,
    result: Option<String>,
}

/// Where to go instead when a sitting is over: to its result, or, until the clock has graded it, to a page that says so.
fn over(app: &App, reader: &SignedIn, attempt: &Attempt) -> Result<Option<HttpResponse>, PageError> {
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

fn result(attempt: &Attempt) -> String {
    format!("/examine/sitting/{}/result", attempt.id)
}
