//! `/invigilate/{id}`: the code, who sits and how far they are; noting an incident, ending a sitting, closing.

use super::{invigilator, scheme_title};
use crate::actions::Token;
use crate::actions::invigilate::close_invigilation;
use crate::actions::note_incident::{Noted, Seen, note_incident};
use crate::domain::units::Moment;
use crate::store::attempts::AttemptState;
use crate::store::incidents::{self, Incident, IncidentKind};
use crate::store::read::invigilated::{Watched, of_invigilation};
use crate::store::{AttemptId, InvigilationId, invigilations};
use crate::web::dates::{day_and_time, time_of_day};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::pages::record::said;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/invigilate/one.html";

#[derive(Serialize)]
struct Row {
    attempt: i64,
    name: String,
    state: String,
    answered: usize,
    questions: usize,
    left: Option<String>,
    last_saved: Option<String>,
    open: bool,
    /// Nothing can be written down about one's own sitting.
    own: bool,
    incidents: Vec<String>,
    /// What was typed, when it was wrong.
    text: String,
    /// Whether what was typed here was wrong.
    failed: bool,
}

#[derive(Serialize)]
struct Shown {
    page: Page,
    id: i64,
    scheme: String,
    branch: String,
    /// While it opens sittings.
    code: Option<String>,
    until: String,
    rows: Vec<Row>,
    key: String,
}

/// The invigilation.
///
/// # Errors
/// The reader's branch has no such invigilation, or the program cannot do it now.
pub async fn show(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    id: web::Path<String>,
) -> Result<HttpResponse, PageError> {
    let mut shown = read(&app, &reader, number(&id)?, None, Vec::new()).await?;
    shown.page.notice = match Fields::from_text(request.query_string())?.typed("done") {
        "noted" => Some("Written down.".to_owned()),
        "over" => Some("That sitting was over already. Nothing was changed.".to_owned()),
        "closed" => Some("Closed. The code opens nothing any more; who sits goes on.".to_owned()),
        _ => None,
    };
    reply::page(&app, TEMPLATE, &shown)
}

/// Closes it.
///
/// # Errors
/// The reader's branch has no such invigilation, or the program cannot do it now.
pub async fn close(app: web::Data<App>, reader: SignedIn, id: web::Path<String>) -> Result<HttpResponse, PageError> {
    let id = number(&id)?;
    close_invigilation(&app.deeds, invigilator(&reader), id).await?;
    Ok(reply::see_other(&format!("/invigilate/{id}?done=closed")))
}

/// Notes an incident in a sitting, or ends it.
///
/// # Errors
/// There is no such sitting under the reader's eyes, or the program cannot do it now.
pub async fn note(
    app: web::Data<App>,
    reader: SignedIn,
    path: web::Path<(String, String)>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let (id, attempt) = path.into_inner();
    let id = number(&id)?;
    let attempt: AttemptId = attempt.parse().map_err(|_| PageError::NotFound)?;
    let key = Token::from_text(fields.typed("key")).ok_or(PageError::Malformed("no key to write with"))?;
    let kind = match fields.typed("deed") {
        "note" => IncidentKind::Noted,
        "end" => IncidentKind::Ended,
        _ => return Err(PageError::Malformed("neither noted nor ended")),
    };
    let mut form = Reader::new(&fields);
    let field = text_field(attempt);
    let text = form
        .lines(&field, |typed| said(typed, "Write down what happened, so that somebody can read it in three years."));
    let Some(text) = text else {
        let typed = Some((attempt, fields.typed(&field)));
        return reply::form_again(&app, TEMPLATE, &read(&app, &reader, id, typed, form.into_errors()).await?);
    };
    let seen = Seen { under: id, attempt, kind, text: &text, key: key.as_str() };
    let done = match note_incident(&app.deeds, invigilator(&reader), seen).await? {
        Noted::Done => "noted",
        Noted::Over => "over",
        Noted::OwnSitting => return Err(PageError::NotFound),
    };
    Ok(reply::see_other(&format!("/invigilate/{id}?done={done}")))
}

fn number(id: &str) -> Result<InvigilationId, PageError> {
    id.parse().map_err(|_| PageError::NotFound)
}

fn text_field(attempt: AttemptId) -> String {
    format!("text-{attempt}")
}

async fn read(
    app: &App,
    reader: &SignedIn,
    id: InvigilationId,
    typed: Option<(AttemptId, &str)>,
    errors: Vec<FieldError>,
) -> Result<Shown, PageError> {
    let (db, now) = (&app.deeds.db, app.deeds.clock.now());
    let one = invigilations::by_id(db, reader.branch, id).await?;
    let watched = of_invigilation(db, id).await?;
    let attempts: Vec<AttemptId> = watched.iter().map(|watched| watched.attempt.id).collect();
    let all = incidents::of_attempts(db, &attempts).await?;
    let mut rows = Vec::new();
    for watched in watched {
        let typed = typed.filter(|(attempt, _)| *attempt == watched.attempt.id).map(|(_, text)| text);
        rows.push(row(reader, watched, &all, typed, now)?);
    }
    let mut page = reader.page("Invigilation", "/invigilate");
    page.errors = errors;
    Ok(Shown {
        page,
        id: id.0,
        scheme: scheme_title(app, &one.scheme_key),
        branch: reader.branch_name.clone(),
        code: one.is_open(now).then(|| one.code.to_string()),
        until: day_and_time(one.closed_at.unwrap_or(one.expires_at), &reader.time_zone)?,
        rows,
        key: Token::fresh()?.as_str().to_owned(),
    })
}

fn row(
    reader: &SignedIn,
    watched: Watched,
    all: &[Incident],
    typed: Option<&str>,
    now: Moment,
) -> Result<Row, PageError> {
    let zone = &reader.time_zone;
    let attempt = watched.attempt;
    let open = attempt.state == AttemptState::Open && !attempt.is_overdue(now);
    let left = attempt.deadline_at.filter(|_| open).map(|deadline| match deadline.seconds_since(now) {
        ..60 => "less than 1 min".to_owned(),
        left => format!("{} min", left / 60),
    });
    let state = match (attempt.state, attempt.ended_by) {
        (AttemptState::Open, _) if open => "sits",
        (AttemptState::Open, _) => "time is over",
        (AttemptState::Submitted, _) => "handed in",
        (AttemptState::Expired, None) => "handed in by the clock",
        (AttemptState::Expired, Some(_)) => "ended",
    };
    let mut told = Vec::new();
    for incident in all.iter().filter(|incident| incident.attempt_id == attempt.id) {
        let word = if incident.kind == IncidentKind::Ended { "Ended: " } else { "" };
        told.push(format!("{} {word}{}", time_of_day(incident.noted_at, zone)?, incident.text));
    }
    Ok(Row {
        attempt: attempt.id.0,
        name: watched.name,
        state: state.to_owned(),
        answered: watched.answered,
        questions: watched.questions,
        left,
        last_saved: watched.last_saved.map(|at| time_of_day(at, zone)).transpose()?,
        open,
        own: attempt.person_id == reader.person,
        incidents: told,
        text: typed.unwrap_or_default().to_owned(),
        failed: typed.is_some(),
    })
}
