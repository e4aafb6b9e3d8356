//! `/observe`: the newest observations of the reader's branch, and the form that opens another.

use super::assessor;
use crate::actions::Token;
use crate::actions::observe::{Opened, ToWatch, open_observation};
use crate::domain::examination::observation::Task;
use crate::store::read::assigned::learners;
use crate::store::{PersonId, observations, people};
use crate::web::dates::day_and_time;
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;
use std::collections::BTreeSet;

const TEMPLATE: &str = "pages/observe/list.html";
/// How many are listed; chosen by us: some weeks of one branch.
const LISTED: u64 = 50;

#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Row {
    href: String,
    title: String,
    note: Option<String>,
    state: &'static str,
}

#[derive(Serialize)]
struct List {
    page: Page,
    branch: String,
    people: Vec<Choice>,
    person: String,
    tasks: Vec<Choice>,
    task: String,
    machines: Vec<Choice>,
    machine: String,
    key: String,
    open: Vec<Row>,
    signed: Vec<Row>,
}

/// The list and the form.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    reply::page(&app, TEMPLATE, &read(&app, &reader, &Fields::default(), Vec::new()).await?)
}

/// Opens one.
///
/// # Errors
/// The program cannot do it now.
pub async fn open(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let key = Token::from_text(fields.typed("key")).ok_or(PageError::Malformed("no key to open with"))?;
    let mut form = Reader::new(&fields);
    let person = form.line("person", |typed| typed.parse::<PersonId>().map_err(|_| NO_PERSON));
    let task = form.line("task", |typed| Task::from_id(typed).ok_or("Choose a task."));
    let machine = form.line("machine", |typed| if typed.is_empty() { Err(NO_MACHINE) } else { Ok(typed) });
    if let (Some(person), Some(task), Some(machine)) = (person, task, machine) {
        let what = ToWatch { person, task, machine, key: key.as_str() };
        match open_observation(&app.deeds, assessor(&reader), what).await? {
            Opened::Open(id) => return Ok(reply::see_other(&format!("/observe/{id}"))),
            Opened::OwnHand => form.wrong("person", "Nobody watches themselves. Somebody else has to do it."),
            Opened::NoSuchPerson => form.wrong("person", NO_PERSON),
            Opened::NoSuchMachine => form.wrong("machine", NO_MACHINE),
        }
    }
    reply::form_again(&app, TEMPLATE, &read(&app, &reader, &fields, form.into_errors()).await?)
}

const NO_PERSON: &str = "Choose somebody of your branch.";
const NO_MACHINE: &str = "Choose a machine.";

async fn read(app: &App, reader: &SignedIn, typed: &Fields, errors: Vec<FieldError>) -> Result<List, PageError> {
    let db = &app.deeds.db;
    let in_use = app.deeds.bank.now();
    let of_branch = learners(db, Some(reader.branch), &BTreeSet::new()).await?;
    let people = of_branch.into_iter().filter(|learner| learner.person_id != reader.person);
    let people = people.map(|learner| Choice { value: learner.person_id.to_string(), text: learner.display_name });
    let all = observations::of_branch(db, reader.branch, LISTED).await?;
    let results = observations::signed_of(db, all.iter().map(|of| of.id)).await?;
    let (mut open, mut signed) = (Vec::new(), Vec::new());
    for of in all {
        let person = people::by_id(db, of.person_id).await?.display_name;
        let by = people::by_id(db, of.assessor_id).await?.display_name;
        let machine = in_use.bank.machine(&of.machine_key).map_or(of.machine_key.as_str(), |one| &one.profile.name);
        let at = results.get(&of.id).map_or(of.opened_at, |signed| signed.signed_at);
        let row = |state| -> Result<Row, PageError> {
            Ok(Row {
                href: format!("/observe/{}", of.id),
                title: format!("{person}: {}", of.task.name()),
                note: Some(format!("{machine}, {}, by {by}", day_and_time(at, &reader.time_zone)?)),
                state,
            })
        };
        match results.get(&of.id) {
            None => open.push(row("open")?),
            Some(result) => signed.push(row(if result.outcome.passed { "passed" } else { "not passed" })?),
        }
    }
    let tasks = Task::ALL.map(|task| Choice { value: task.id().to_owned(), text: task.name().to_owned() });
    let machines = in_use.bank.machines().map(|machine| {
        let profile = &machine.profile;
        Choice { value: profile.id.clone(), text: format!("{}, {}", profile.name, profile.kind) }
    });
    // Nothing is chosen by itself: the wrong person would be watched by a slip of the thumb.
    let first = || std::iter::once(Choice { value: String::new(), text: "Choose".to_owned() });
    let mut people: Vec<Choice> = people.collect();
    if !people.is_empty() {
        people.splice(0..0, first());
    }
    let mut page = reader.page("Observe", "/observe");
    page.errors = errors;
    Ok(List {
        page,
        branch: reader.branch_name.clone(),
        people,
        person: typed.typed("person").to_owned(),
        tasks: first().chain(tasks).collect(),
        task: typed.typed("task").to_owned(),
        machines: first().chain(machines).collect(),
        machine: typed.typed("machine").to_owned(),
        key: Token::fresh()?.as_str().to_owned(),
        open,
        signed,
    })
}
