//! `/people`: who is here, inviting one person, bringing many in from a roster.

mod codes;
mod import;
mod invite;
mod person;
mod time;
mod trainer;

pub use codes::reset_codes;
pub use import::{form as import_form, submit as import};
pub use invite::{form as invite_form, submit as invite};
pub use person::{change, invite_again, show as person};
pub use time::{set as set_time, show as time};
pub use trainer::trainer;

use crate::domain::people::{Permission, Role, brings_in};
use crate::store::people::{PeopleFilter, Person, list as listed};
use crate::store::{BranchId, branches};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, address, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

/// People on one page of the list.
const PAGE: u64 = 50;

/// One choice of a select field.
#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Row {
    id: i64,
    name: String,
    email: String,
    branch: String,
    role_name: &'static str,
    state: &'static str,
}

#[derive(Serialize)]
struct List {
    page: Page,
    rows: Vec<Row>,
    branches: Vec<Choice>,
    branch: String,
    search: String,
    from: u64,
    to: u64,
    total: u64,
    before: Option<String>,
    after: Option<String>,
    may_invite: bool,
    may_import: bool,
}

/// The list: by name, of one branch or of all, of those whose name or address contains something.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let branch = query.typed("branch").parse::<BranchId>().ok();
    let search: String = query.typed("search").chars().filter(|c| !c.is_control()).take(100).collect();
    let number = query.typed("page").parse::<u64>().unwrap_or(1).clamp(1, 1_000_000);
    let filter = PeopleFilter { branch, search: Some(search.clone()).filter(|s| !s.is_empty()), ..Default::default() };
    let found = listed(&app.deeds.db, &filter, number, PAGE).await?;

    let shown = found.people.len() as u64;
    let skipped = (number - 1) * PAGE;
    let href = |number: u64| {
        let branch = branch.map(|branch| branch.to_string()).unwrap_or_default();
        format!("/people?branch={branch}&search={}&page={number}", address::in_query(&search))
    };
    let mut page = reader.page("People", "/people");
    page.notice = notice(&query);
    let list = List {
        page,
        rows: found.people.into_iter().map(|(person, branch)| row(person, branch)).collect(),
        branches: choices(&app, "All branches").await?,
        branch: branch.map(|branch| branch.to_string()).unwrap_or_default(),
        from: if shown == 0 { 0 } else { skipped + 1 },
        to: if shown == 0 { 0 } else { skipped + shown },
        total: found.total,
        before: (number > 1).then(|| href(number - 1)),
        after: (skipped + shown < found.total).then(|| href(number + 1)),
        search,
        may_invite: reader.may(Permission::InvitePeople),
        may_import: reader.may(Permission::ImportPeople),
    };
    reply::page(&app, "pages/people/list.html", &list)
}

fn row(person: Person, branch: String) -> Row {
    Row {
        state: state(&person),
        id: person.id.0,
        name: person.display_name,
        email: person.email,
        branch,
        role_name: person.role.name(),
    }
}

/// Whether a person can sign in, in a word.
const fn state(person: &Person) -> &'static str {
    match (person.active, person.has_password) {
        (false, _) => "suspended",
        (true, false) => "invited",
        (true, true) => "active",
    }
}

/// What has just happened, in words; the query only picks among them.
fn notice(query: &Fields) -> Option<String> {
    match query.typed("done") {
        "invited" => Some("The person is in, and the invitation is on its way.".to_owned()),
        "imported" => {
            let people: u32 = query.typed("people").parse().ok()?;
            Some(format!("{people} people are in, and their invitations are on their way."))
        }
        _ => None,
    }
}

/// The branches as choices, below an empty one.
async fn choices(app: &App, empty: &str) -> Result<Vec<Choice>, PageError> {
    let first = Choice { value: String::new(), text: empty.to_owned() };
    let all = branches::list(&app.deeds.db).await?.into_iter();
    let all = all.map(|branch| Choice { value: branch.id.to_string(), text: branch.name });
    Ok(std::iter::once(first).chain(all).collect())
}

/// The roles that somebody of a role may bring in, as choices.
fn role_choices(by: Role) -> impl Iterator<Item = Choice> {
    let choice = |role: Role| Choice { value: role.id().to_owned(), text: role.name().to_owned() };
    Role::ALL.into_iter().filter(move |role| brings_in(by, *role)).map(choice)
}
