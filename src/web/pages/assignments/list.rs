//! The list of assignments with how many have done them, and the form for a new one.

use super::progress::{Has, due, progress, thing};
use crate::actions::Token;
use crate::actions::assign::{ToDo, assign as do_assign};
use crate::domain::bank::Bank;
use crate::domain::certification::assignment::{Kind, Progress};
use crate::domain::people::Role;
use crate::domain::units::Moment;
use crate::store::assignments::{self, Assignment, ToWhom};
use crate::store::branches::{self, Branch};
use crate::store::read::assigned::{Learner, learners};
use crate::store::{BranchId, people};
use crate::web::dates::{day_of, read_day};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;
use std::collections::BTreeMap;

const TEMPLATE: &str = "pages/assignments/list.html";
/// Assignments on one page.
const PAGE: usize = 50;

#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Row {
    href: String,
    thing: String,
    to: String,
    due: String,
    done: usize,
    of: usize,
    overdue: usize,
}

#[derive(Serialize)]
struct List {
    page: Page,
    rows: Vec<Row>,
    said: String,
    from: usize,
    to: usize,
    total: usize,
    before: Option<String>,
    after: Option<String>,
    things: Vec<Choice>,
    groups: Vec<Choice>,
    thing: String,
    group: String,
    email: String,
    due: String,
    key: String,
}

/// The list and the form.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let mut list = drawn(&app, &reader, &query, Vec::new()).await?;
    list.page.notice = match query.typed("done") {
        "assigned" => Some("Assigned. It stands on the first page of everyone it is for.".to_owned()),
        "withdrawn" => Some("Withdrawn. It stays on record.".to_owned()),
        _ => None,
    };
    reply::page(&app, TEMPLATE, &list)
}

/// Assigns something.
///
/// # Errors
/// The program cannot do it now.
pub async fn assign(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let key = Token::from_text(fields.typed("key")).ok_or(PageError::Malformed("no key to assign with"))?;
    let in_use = app.deeds.bank.now();
    let mut form = Reader::new(&fields);
    let thing = form.line("thing", |typed| thing_of(&in_use.bank, typed).ok_or("Choose what is to be done."));
    let to = whom(&app, &mut form, &fields).await?;
    let today = day_of(app.deeds.clock.now(), &reader.time_zone)?;
    let due = form.line("due", |typed| match read_day(typed) {
        Some(day) if day >= today => Ok(day.to_string()),
        Some(_) => Err("This day is over. Choose today or a later day."),
        None => Err("Write the day as 2026-12-01."),
    });
    if let (Some((kind, thing)), Some(to), Some(due)) = (thing, to, due) {
        let to_do = ToDo { to, kind, thing_key: &thing, due_day: &due, key: key.as_str() };
        do_assign(&app.deeds, reader.person, to_do).await?;
        return Ok(reply::see_other("/assignments?done=assigned"));
    }
    let errors = form.into_errors();
    reply::form_again(&app, TEMPLATE, &drawn(&app, &reader, &fields, errors).await?)
}

/// "scheme:first-day" as the bank has it.
fn thing_of(bank: &Bank, typed: &str) -> Option<(Kind, String)> {
    let (kind, key) = typed.split_once(':')?;
    let kind = Kind::from_id(kind)?;
    let known = match kind {
        Kind::Scheme => bank.scheme(key).is_some(),
        Kind::Module => bank.module(key).is_some(),
    };
    known.then(|| (kind, key.to_owned()))
}

/// Who it is for: a person by their address, or a group that was chosen.
async fn whom(app: &App, form: &mut Reader<'_>, fields: &Fields) -> Result<Option<ToWhom>, PageError> {
    let (email, group) = (form.line("email", |typed| Ok::<_, String>(typed.trim())), fields.typed("group"));
    let Some(email) = email else { return Ok(None) };
    if !email.is_empty() && !group.is_empty() {
        form.wrong("email", "Write one person's address, or choose a group, not both.");
        return Ok(None);
    }
    if group.is_empty() {
        let found = people::find_by_email_norm(&app.deeds.db, &email.to_lowercase()).await?;
        return Ok(match found {
            Some(person) if matches!(person.role, Role::Technician | Role::Trainer) && person.active => {
                Some(ToWhom::Person(person.id))
            }
            Some(_) => {
                form.wrong("email", "Only technicians and trainers who may sign in are told to learn something.");
                None
            }
            None => {
                form.wrong(
                    "email",
                    "Nobody here has this address. Write a person's e-mail address, or choose a group.",
                );
                None
            }
        });
    }
    let found = match group.split_once(':') {
        Some(("branch", id)) => {
            let id = id.parse::<BranchId>().ok();
            let known = branches::list(&app.deeds.db).await?;
            id.filter(|id| known.iter().any(|branch| branch.id == *id)).map(ToWhom::Branch)
        }
        Some(("role", "technician")) => Some(ToWhom::Role(Role::Technician)),
        Some(("role", "trainer")) => Some(ToWhom::Role(Role::Trainer)),
        _ => None,
    };
    if found.is_none() {
        form.wrong("group", "Choose a branch or a role.");
    }
    Ok(found)
}

/// Who it is for, in words.
pub(super) fn to_words(to: ToWhom, branches: &[Branch], names: &BTreeMap<crate::store::PersonId, String>) -> String {
    match to {
        ToWhom::Person(person) => {
            names.get(&person).cloned().unwrap_or_else(|| format!("Person {person}, who has left"))
        }
        ToWhom::Branch(id) => {
            let name = branches.iter().find(|branch| branch.id == id).map_or("a branch", |branch| &branch.name);
            format!("everyone at {name}")
        }
        ToWhom::Role(role) => format!("every {role}"),
    }
}

/// Everyone whom an assignment is for, with how far they are.
pub(super) fn far<'a>(
    bank: &Bank,
    of: &Assignment,
    all: &'a [Learner],
    now: Moment,
) -> Result<Vec<(&'a Learner, Progress)>, PageError> {
    let theirs = all.iter().filter(|one| of.is_for(one.person_id, one.branch_id, one.role));
    let far = |one: &'a Learner| {
        let has = Has { certification: &one.certification, read: &one.read, zone: &one.time_zone };
        Ok((one, progress(bank, of, has, now)?))
    };
    theirs.map(far).collect()
}

async fn drawn(app: &App, reader: &SignedIn, typed: &Fields, errors: Vec<FieldError>) -> Result<List, PageError> {
    let (in_use, now, db) = (app.deeds.bank.now(), app.deeds.clock.now(), &app.deeds.db);
    let bank = &in_use.bank;
    let mut standing = assignments::all(db).await?;
    standing.retain(|of| of.withdrawn.is_none());
    let all = learners(db, None, &assignments::modules_of(&standing)).await?;
    let names = all.iter().map(|one| (one.person_id, one.display_name.clone())).collect();
    let known = branches::list(db).await?;
    let (mut rows, mut late) = (Vec::new(), 0);
    for of in standing {
        let far = far(bank, &of, &all, now)?;
        let count = |wanted| far.iter().filter(|(_, progress)| *progress == wanted).count();
        late += count(Progress::Overdue);
        rows.push(Row {
            href: format!("/assignments/{}", of.id),
            thing: thing(bank, &of),
            to: to_words(of.entry.to, &known, &names),
            due: due(&of),
            done: count(Progress::Done),
            of: far.len(),
            overdue: count(Progress::Overdue),
        });
    }
    // What is overdue comes first; then by its day.
    rows.sort_by_key(|row| row.overdue == 0);
    let total = rows.len();
    let pages = total.div_ceil(PAGE).max(1);
    let number = typed.typed("page").parse::<usize>().unwrap_or(1).clamp(1, pages);
    let (first, last) = ((number - 1) * PAGE, (number * PAGE).min(total));
    let mut page = reader.page("Assignments", "/assignments");
    page.errors = errors;
    let choice = |value: String, text: String| Choice { value, text };
    let schemes = bank
        .schemes()
        .map(|entry| choice(format!("scheme:{}", entry.scheme.id), format!("Certificate: {}", entry.scheme.title)));
    let modules = bank.modules().iter();
    let modules = modules.map(|module| choice(format!("module:{}", module.id), format!("Module: {}", module.title)));
    let at = known.iter().map(|branch| choice(format!("branch:{}", branch.id), format!("Everyone at {}", branch.name)));
    let nobody = choice(String::new(), "One person, by the address below".to_owned());
    let roles = [Role::Technician, Role::Trainer];
    let roles = roles.map(|role| choice(format!("role:{}", role.id()), format!("Every {role}")));
    Ok(List {
        page,
        said: match late {
            0 => "Nothing is overdue.".to_owned(),
            1 => "One thing is overdue.".to_owned(),
            more => format!("{more} things are overdue."),
        },
        rows: rows.into_iter().skip(first).take(PAGE).collect(),
        from: if total == 0 { 0 } else { first + 1 },
        to: last,
        total,
        before: (number > 1).then(|| format!("/assignments?page={}", number - 1)),
        after: (number < pages).then(|| format!("/assignments?page={}", number + 1)),
        things: schemes.chain(modules).collect(),
        groups: std::iter::once(nobody).chain(at).chain(roles).collect(),
        thing: typed.typed("thing").to_owned(),
        group: typed.typed("group").to_owned(),
        email: typed.typed("email").to_owned(),
        due: typed.typed("due").to_owned(),
        key: Token::fresh()?.as_str().to_owned(),
    })
}
