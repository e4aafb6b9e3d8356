//! `/qualified/who`: whom may I send? Who is qualified for a competence, on a machine, from a branch, on a day; as a page,
//! as JSON and as CSV, at one address that can be passed on.
//!
//! Never answers a question that it does not understand: an unknown machine, branch or day is said, not guessed.

mod answer;
mod asked;
mod written;

use crate::store::branches::{self, Branch};
use crate::store::read::record_head::record_head;
use crate::web::dates::day_of;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::program::Asker;
use crate::web::view::{FieldError, Page};
use crate::web::{App, problem, reply};
use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, web};
use answer::{Answer, Answered, answer};
use asked::{Asked, read};
use serde::Serialize;

const TEMPLATE: &str = "pages/qualified/who.html";
/// People who may be sent, on one page; of those who may not, the first page shows as many.
const PAGE: usize = 50;

#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Line {
    name: String,
    href: String,
    branch: String,
    state: &'static str,
    note: String,
    certificate: Option<String>,
    misses: Vec<String>,
}

/// The people on one page.
#[derive(Default, Serialize)]
struct Shown {
    may: Vec<Line>,
    may_not: Vec<Line>,
    from: usize,
    to: usize,
    total: usize,
    before: Option<String>,
    after: Option<String>,
    /// How many more may not be sent than are shown.
    more: usize,
}

#[derive(Serialize)]
struct WhoPage {
    page: Page,
    competences: Vec<Choice>,
    machines: Vec<Choice>,
    branches: Vec<Choice>,
    competence: String,
    machine: String,
    branch: String,
    day: String,
    /// Nothing when nothing has been asked yet.
    said: Option<String>,
    known: Option<&'static str>,
    shown: Shown,
    query: String,
    entries: i64,
    hash: String,
    now: i64,
    zone: String,
}

/// The answer, in the form that is asked for with `format=json`, `format=csv` or the header Accept.
///
/// # Errors
/// The program cannot do it now.
pub async fn who(app: web::Data<App>, request: HttpRequest, asker: Asker) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let for_program = problem::wanted(&request);
    let known = branches::list(&app.deeds.db).await?;
    let (only, own_zone) = match &asker {
        Asker::Program(program) => (program.branch, None),
        Asker::Person(reader) => (None, Some(reader.time_zone.clone())),
    };
    // A branch that is not this program's looks like one that is not there.
    let open: Vec<Branch> = known.into_iter().filter(|branch| only.is_none_or(|only| only == branch.id)).collect();
    let zone = own_zone.unwrap_or_else(|| only_zone(&open));
    let in_use = app.deeds.bank.now();
    let now = app.deeds.clock.now();
    let asked = match read(&query, &in_use.bank, &open, only, &zone, now) {
        Ok(asked) => asked,
        Err(_) if !for_program && query.every().next().is_none() => {
            let reader = person(&asker)?;
            return reply::page(&app, TEMPLATE, &drawn(&app, reader, &query, &open, None, Vec::new()).await?);
        }
        Err(errors) if for_program => {
            let title = "The question is not understood";
            let detail = "Correct what errors names, and ask again. README.md has an example.";
            let status = StatusCode::UNPROCESSABLE_ENTITY;
            return Ok(problem::reply(HttpResponse::build(status), status, title, detail, &errors));
        }
        Err(errors) => {
            let reader = person(&asker)?;
            return reply::form_again(&app, TEMPLATE, &drawn(&app, reader, &query, &open, None, errors).await?);
        }
    };
    let found = answer(&app, &in_use.bank, &asked, &open, now).await?;
    let head = record_head(&app.deeds.db).await?;
    match (query.typed("format"), for_program) {
        ("csv", _) => written::csv(&asked, &found, &head, &zone),
        (_, true) => written::json(&asked, &found, &head, now, &zone),
        _ => {
            let reader = person(&asker)?;
            let context = drawn(&app, reader, &query, &open, Some((&asked, &found)), Vec::new()).await?;
            reply::page(&app, TEMPLATE, &context)
        }
    }
}

/// The zone of the only branch a program may ask about; else UTC.
fn only_zone(open: &[Branch]) -> String {
    match open {
        [only] => only.time_zone.clone(),
        _ => "UTC".to_owned(),
    }
}

fn person(asker: &Asker) -> Result<&SignedIn, PageError> {
    match asker {
        Asker::Person(reader) => Ok(reader),
        // A program is never shown a page: it is answered above.
        Asker::Program(_) => Err(PageError::Malformed("a program asks for a page")),
    }
}

/// A first choice, and then those that there are.
fn choices(first: &str, all: impl Iterator<Item = (String, String)>) -> Vec<Choice> {
    let choice = |(value, text)| Choice { value, text };
    std::iter::once((String::new(), first.to_owned())).chain(all).map(choice).collect()
}

async fn drawn(
    app: &App,
    reader: &SignedIn,
    query: &Fields,
    open: &[Branch],
    found: Option<(&Asked, &Answer)>,
    errors: Vec<FieldError>,
) -> Result<WhoPage, PageError> {
    let in_use = app.deeds.bank.now();
    let bank = &in_use.bank;
    let head = record_head(&app.deeds.db).await?;
    let now = app.deeds.clock.now();
    let mut page = reader.page("Whom may I send?", "/qualified");
    page.errors = errors;
    let today = day_of(now, &reader.time_zone)?.to_string();
    let typed_day = query.typed("day");
    let competences = bank.competences().iter().map(|known| (known.id.clone(), known.name.clone()));
    let machines = bank.machines().map(|known| (known.profile.id.clone(), known.profile.name.clone()));
    let branches = open.iter().map(|known| (known.id.to_string(), known.name.clone()));
    let branch = found.map(|(asked, _)| asked.branch.as_ref().map(|of| of.id.to_string()).unwrap_or_default());
    let shown = match found {
        Some((asked, found)) => Shown::of(asked, found, query, &reader.time_zone)?,
        None => Shown::default(),
    };
    Ok(WhoPage {
        page,
        competences: choices("Choose", competences),
        machines: choices("Choose", machines),
        branches: choices("All branches", branches),
        competence: query.typed("competence").to_owned(),
        machine: query.typed("machine").to_owned(),
        branch: branch.unwrap_or_else(|| query.typed("branch").to_owned()),
        day: if typed_day.is_empty() { today } else { typed_day.to_owned() },
        said: found.map(|(asked, found)| asked.said(found.may.len())),
        known: found.map(|(asked, _)| asked.known()),
        shown,
        query: found.map(|(asked, _)| asked.query()).unwrap_or_default(),
        entries: head.entries,
        hash: head.hash,
        now: now.0,
        zone: reader.time_zone.clone(),
    })
}

impl Shown {
    fn of(asked: &Asked, found: &Answer, query: &Fields, zone: &str) -> Result<Self, PageError> {
        let line = |one: &Answered| one.line(zone);
        let total = found.may.len();
        let pages = total.div_ceil(PAGE).max(1);
        let number = query.typed("page").parse::<usize>().unwrap_or(1).clamp(1, pages);
        let (start, end) = ((number - 1) * PAGE, (number * PAGE).min(total));
        // The later pages go on with those who may be sent.
        let others = if number == 1 { PAGE } else { 0 };
        let href = |number: usize| format!("/qualified/who?{}&page={number}", asked.query());
        Ok(Self {
            may: found.may[start..end].iter().map(line).collect::<Result<_, _>>()?,
            may_not: found.may_not.iter().take(others).map(line).collect::<Result<_, _>>()?,
            from: if total == 0 { 0 } else { start + 1 },
            to: end,
            total,
            before: (number > 1).then(|| href(number - 1)),
            after: (number < pages).then(|| href(number + 1)),
            more: found.may_not.len().saturating_sub(PAGE),
        })
    }
}
