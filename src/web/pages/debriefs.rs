//! `/debriefs`: the missed safety questions that a trainer still has to go through with somebody.

use crate::actions::hold_debrief::{DebriefHeld, hold_debrief};
use crate::actions::{read_answer, read_question};
use crate::domain::bank::Bank;
use crate::domain::visible::says_something;
use crate::store::attempts::{self, AttemptKind};
use crate::store::read::debriefs::awaited;
use crate::store::{AttemptId, debriefs, people};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::question_card::explained::Explained;
use crate::web::question_card::{Given, QuestionCard};
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const ONE: &str = "pages/debriefs/one.html";
/// Longest note that is kept, in characters; chosen by us.
const LONGEST_NOTE: usize = 2000;

#[derive(Serialize)]
struct Waiting {
    href: String,
    title: String,
    note: String,
    state: Option<String>,
}

#[derive(Serialize)]
struct List {
    page: Page,
    zone: String,
    waiting: Vec<Waiting>,
}

/// A mandatory question that was missed.
#[derive(Serialize)]
struct Missed {
    position: i32,
    competence: String,
    card: QuestionCard,
    explained: Explained,
}

#[derive(Serialize)]
struct One {
    page: Page,
    name: String,
    scheme: String,
    /// Whether it is the reader's own: then it is for another trainer.
    own: bool,
    action: String,
    missed: Vec<Missed>,
    note: String,
}

/// Who waits, the longest first.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let read = app.deeds.bank.now();
    let now = app.deeds.clock.now();
    let waiting = awaited(&app.deeds.db, None).await?.into_iter().map(|each| Waiting {
        href: format!("/debriefs/{}", each.attempt_id),
        title: each.display_name,
        note: format!("{}, {}", each.branch_name, scheme_title(&read.bank, &each.scheme_key)),
        state: Some(if each.person_id == reader.person {
            "your own: for another trainer".to_owned()
        } else {
            waiting_for(now.seconds_since(each.submitted_at))
        }),
    });
    let mut page = reader.page("Missed safety questions", "/debriefs");
    page.notice = match Fields::from_text(request.query_string())?.typed("held") {
        "now" => Some("Written down. The person can sit again.".to_owned()),
        "before" => Some("Somebody had written this one down before. That note stands.".to_owned()),
        _ => None,
    };
    reply::page(&app, "pages/debriefs/list.html", &List { page, zone: reader.time_zone, waiting: waiting.collect() })
}

/// One person's missed safety questions, with the model's reasons and the note.
///
/// # Errors
/// Nothing waits at this address, or the program cannot do it now.
pub async fn show(app: web::Data<App>, reader: SignedIn, id: web::Path<String>) -> Result<HttpResponse, PageError> {
    let one = one(&app, &reader, attempt_id(&id)?, String::new(), Vec::new()).await?;
    reply::page(&app, ONE, &one)
}

/// Writes the talk down.
///
/// # Errors
/// Nothing waits at this address, or the program cannot do it now.
pub async fn hold(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<String>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let attempt = attempt_id(&id)?;
    let mut form = Reader::new(&fields);
    let note = form.lines("note", |typed| match typed.trim() {
        note if !says_something(note) => {
            Err("Write down what you went through, so that somebody can read it in three years.")
        }
        note if note.chars().count() > LONGEST_NOTE => Err("This is too long. Keep it under 2000 characters."),
        note => Ok(note.to_owned()),
    });
    if let Some(note) = note {
        match hold_debrief(&app.deeds, reader.person, attempt, &note).await? {
            DebriefHeld::Held => return Ok(reply::see_other("/debriefs?held=now")),
            DebriefHeld::HeldBefore => return Ok(reply::see_other("/debriefs?held=before")),
            DebriefHeld::OwnAttempt => {
                form.wrong("note", "This is your own examination. Another trainer goes through it with you.")
            }
        }
    }
    let typed = fields.typed("note").to_owned();
    let errors = form.into_errors();
    reply::form_again(&app, ONE, &one(&app, &reader, attempt, typed, errors).await?)
}

fn attempt_id(text: &str) -> Result<AttemptId, PageError> {
    text.parse().map_err(|_| PageError::NotFound)
}

async fn one(
    app: &App,
    reader: &SignedIn,
    id: AttemptId,
    note: String,
    errors: Vec<FieldError>,
) -> Result<One, PageError> {
    let db = &app.deeds.db;
    let attempt = attempts::by_id_of_anyone(db, id).await?;
    if attempt.kind != AttemptKind::Examination || debriefs::find_of_attempt(db, id).await?.is_some() {
        return Err(PageError::NotFound);
    }
    let person = people::by_id(db, attempt.person_id).await?;
    let read = app.deeds.bank.now();
    let grades = attempts::grades(db, id).await?;
    let responses = attempts::responses(db, id).await?;
    let mut missed = Vec::new();
    for asked in attempts::questions(db, id).await?.iter().filter(|asked| asked.question.mandatory) {
        // An examination that is still open has no grades: nothing of it is shown.
        if !grades.iter().any(|grade| grade.position == asked.position && !grade.correct) {
            continue;
        }
        let question = read_question(asked)?;
        let saved = responses.iter().find(|response| response.position == asked.position);
        let answer = saved.map(read_answer).transpose()?;
        missed.push(Missed {
            position: asked.position,
            competence: read
                .bank
                .competence(&question.competence)
                .map_or(question.competence.clone(), |c| c.name.clone()),
            card: QuestionCard::new(&question.shown, &answer.as_ref().map(Given::saved).unwrap_or_default()),
            explained: Explained::new(&question, answer.as_ref()),
        });
    }
    if missed.is_empty() {
        return Err(PageError::NotFound);
    }
    let mut page = reader.page(&format!("Go through it with {}", person.display_name), "/debriefs");
    page.errors = errors;
    let scheme = scheme_title(&read.bank, attempt.scheme_key.as_deref().unwrap_or_default());
    let own = person.id == reader.person;
    Ok(One { page, name: person.display_name, scheme, own, action: format!("/debriefs/{id}"), missed, note })
}

fn scheme_title(bank: &Bank, key: &str) -> String {
    bank.scheme(key).map_or_else(|| key.to_owned(), |entry| entry.scheme.title.clone())
}

/// How long somebody has waited, in words.
fn waiting_for(seconds: i64) -> String {
    match seconds / 86_400 {
        ..=0 => "since today".to_owned(),
        1 => "since yesterday".to_owned(),
        days => format!("for {days} days"),
    }
}
