//! `/refreshers`: who needs a refresher and why, and where a trainer or a service manager writes down what happened.

use super::record::{said, scheme_title, state_words};
use crate::actions::Token;
use crate::actions::record_trigger::{Happened, TriggerRecorded, record_trigger};
use crate::domain::certification::certificate::{Rest, State};
use crate::domain::certification::trigger::{Effect, Kind};
use crate::store::people::{self, Person};
use crate::store::read::matrix::{MatrixFilter, matrix};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/refreshers/list.html";

#[derive(Serialize)]
struct Row {
    name: String,
    branch: String,
    scheme: String,
    state: &'static str,
    note: Option<String>,
}

#[derive(Serialize)]
struct Choice {
    value: &'static str,
    text: String,
}

#[derive(Serialize)]
struct List {
    page: Page,
    rows: Vec<Row>,
    kinds: Vec<Choice>,
    email: String,
    kind: String,
    text: String,
    key: String,
}

/// The list and the form.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let mut list = read(&app, &reader, &query, Vec::new()).await?;
    if query.typed("done") == "now" {
        list.page.notice = Some("Written down.".to_owned());
    }
    reply::page(&app, TEMPLATE, &list)
}

/// Writes down what happened with a person.
///
/// # Errors
/// The program cannot do it now.
pub async fn record(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let key = Token::from_text(fields.typed("key")).ok_or(PageError::Malformed("no key to write with"))?;
    let mut form = Reader::new(&fields);
    let person = somebody(&app, &mut form).await?;
    let kind = form.line("kind", |typed| {
        Kind::ALL.into_iter().filter(chosen_by_hand).find(|kind| kind.id() == typed).ok_or("Choose what happened.")
    });
    let text = form
        .lines("text", |typed| said(typed, "Write down what happened, so that somebody can read it in three years."));
    if let (Some(person), Some(kind), Some(text)) = (person, kind, text) {
        let happened = Happened { person: person.id, kind, machine: None, text: &text, key: key.as_str() };
        match record_trigger(&app.deeds, reader.person, happened).await? {
            TriggerRecorded::Done => return Ok(reply::see_other("/refreshers?done=now")),
            TriggerRecorded::Oneself => {
                form.wrong("email", "This is you. Somebody else writes down what happened with you.")
            }
        }
    }
    let errors = form.into_errors();
    reply::form_again(&app, TEMPLATE, &read(&app, &reader, &fields, errors).await?)
}

/// A changed machine is written down by publishing its profile.
fn chosen_by_hand(kind: &Kind) -> bool {
    *kind != Kind::ChangedMachine
}

async fn somebody(app: &App, form: &mut Reader<'_>) -> Result<Option<Person>, PageError> {
    let email = form.line("email", |typed| Ok::<_, String>(typed.trim().to_lowercase()));
    let Some(email) = email else { return Ok(None) };
    let found = people::find_by_email_norm(&app.deeds.db, &email).await?;
    if found.is_none() {
        form.wrong("email", "Nobody here has this address. Type the person's e-mail address.");
    }
    Ok(found)
}

async fn read(app: &App, reader: &SignedIn, typed: &Fields, errors: Vec<FieldError>) -> Result<List, PageError> {
    let (in_use, now) = (app.deeds.bank.now(), app.deeds.clock.now());
    let mut rows = Vec::new();
    for person in matrix(&app.deeds.db, &MatrixFilter::default()).await? {
        for certificate in &person.certification.certificates {
            let state = person.certification.state_of(certificate, now);
            if asks_for_refresher(state) {
                rows.push(Row {
                    name: person.display_name.clone(),
                    branch: person.branch_name.clone(),
                    scheme: scheme_title(&in_use.bank, Some(&certificate.entry.scheme_key)),
                    state: state.word(),
                    note: state_words(state, &reader.time_zone)?,
                });
            }
        }
    }
    let mut page = reader.page("Refreshers", "/refreshers");
    page.errors = errors;
    let choice = |kind: Kind| Choice {
        value: kind.id(),
        text: match kind.effect() {
            Effect::Suspends => format!("{}: suspends until a new examination", kind.name()),
            Effect::AsksForRefresher => format!("{}: a new examination within 30 days", kind.name()),
        },
    };
    Ok(List {
        page,
        rows,
        kinds: Kind::ALL.into_iter().filter(chosen_by_hand).map(choice).collect(),
        email: typed.typed("email").to_owned(),
        kind: typed.typed("kind").to_owned(),
        text: typed.typed("text").to_owned(),
        key: Token::fresh()?.as_str().to_owned(),
    })
}

const fn asks_for_refresher(state: State) -> bool {
    matches!(
        state,
        State::RefresherDue { .. } | State::Suspended { because: Rest::Trigger(_) | Rest::RefresherOverdue(_), .. }
    )
}
