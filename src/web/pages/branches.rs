//! `/branches`: which branches there are, who is there in numbers, adding one, changing its name or time zone.

use crate::actions::add_branch::{BranchKept, add_branch};
use crate::actions::change_branch::change_branch;
use crate::domain::people::{BranchName, Role};
use crate::store::read::branches::{BranchCount, counts};
use crate::store::{BranchId, branches};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const LIST: &str = "pages/branches/list.html";
const ONE: &str = "pages/branches/one.html";

/// A branch in the list, with the number of its people by role.
#[derive(Serialize)]
struct Row {
    id: i64,
    name: String,
    time_zone: String,
    /// In the order of [`Role::ALL`].
    active: Vec<i64>,
    suspended: i64,
}

#[derive(Serialize)]
struct List {
    page: Page,
    roles: Vec<&'static str>,
    rows: Vec<Row>,
    name: String,
    time_zone: String,
}

#[derive(Serialize)]
struct One {
    page: Page,
    action: String,
    people: String,
    name: String,
    time_zone: String,
}

/// The list, with the form for one more below it.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let mut list = filled(&app, &reader, String::new(), app.settings.time_zone.clone(), Vec::new()).await?;
    list.page.notice = match Fields::from_text(request.query_string())?.typed("done") {
        "added" => Some("The branch is there.".to_owned()),
        "changed" => Some("Saved.".to_owned()),
        _ => None,
    };
    reply::page(&app, LIST, &list)
}

/// Adds a branch.
///
/// # Errors
/// The program cannot do it now.
pub async fn add(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let mut form = Reader::new(&fields);
    if let Some((name, time_zone)) = read(&mut form) {
        match add_branch(&app.deeds, reader.person, &name, time_zone).await? {
            BranchKept::Kept(_) => return Ok(reply::see_other("/branches?done=added")),
            refused => refuse(&mut form, &refused),
        }
    }
    let typed = |name| fields.typed(name).to_owned();
    let list = filled(&app, &reader, typed("name"), typed("time_zone"), form.into_errors()).await?;
    reply::form_again(&app, LIST, &list)
}

/// One branch, to be changed.
///
/// # Errors
/// No such branch, or the program cannot do it now.
pub async fn show(app: web::Data<App>, reader: SignedIn, id: web::Path<i64>) -> Result<HttpResponse, PageError> {
    let branch = branches::by_id(&app.deeds.db, BranchId(id.into_inner())).await?;
    let one = one(&reader, &branch, branch.name.clone(), branch.time_zone.clone(), Vec::new());
    reply::page(&app, ONE, &one)
}

/// Changes a branch's name and time zone.
///
/// # Errors
/// No such branch, or the program cannot do it now.
pub async fn change(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let branch = branches::by_id(&app.deeds.db, BranchId(id.into_inner())).await?;
    let mut form = Reader::new(&fields);
    if let Some((name, time_zone)) = read(&mut form) {
        match change_branch(&app.deeds, reader.person, branch.id, &name, time_zone).await? {
            BranchKept::Kept(_) => return Ok(reply::see_other("/branches?done=changed")),
            refused => refuse(&mut form, &refused),
        }
    }
    let typed = |name| fields.typed(name).to_owned();
    let one = one(&reader, &branch, typed("name"), typed("time_zone"), form.into_errors());
    reply::form_again(&app, ONE, &one)
}

/// What was typed into the fields that both forms have.
fn read<'a>(form: &mut Reader<'a>) -> Option<(BranchName, &'a str)> {
    let name = form.line("name", BranchName::parse);
    let time_zone = form.line("time_zone", Ok::<_, &str>);
    Some((name?, time_zone?))
}

fn refuse(form: &mut Reader<'_>, refused: &BranchKept) {
    match refused {
        BranchKept::NameTaken => form.wrong("name", "There is a branch of this name already. Choose another name."),
        BranchKept::NoSuchTimeZone => {
            form.wrong("time_zone", "There is no such time zone. Write it as Continent/City, such as Europe/Dublin.");
        }
        BranchKept::Kept(_) => {}
    }
}

async fn filled(
    app: &App,
    reader: &SignedIn,
    name: String,
    time_zone: String,
    errors: Vec<FieldError>,
) -> Result<List, PageError> {
    let mut page = reader.page("Branches", "/branches");
    page.errors = errors;
    let rows = counts(&app.deeds.db).await?.into_iter().map(row).collect();
    Ok(List { page, roles: Role::ALL.map(Role::name).to_vec(), rows, name, time_zone })
}

fn row(of: BranchCount) -> Row {
    Row {
        id: of.branch.id.0,
        active: Role::ALL.iter().map(|role| of.active.get(role).copied().unwrap_or_default()).collect(),
        suspended: of.suspended,
        name: of.branch.name,
        time_zone: of.branch.time_zone,
    }
}

fn one(reader: &SignedIn, branch: &branches::Branch, name: String, time_zone: String, errors: Vec<FieldError>) -> One {
    let mut page = reader.page(&branch.name, "/branches");
    page.errors = errors;
    let people = format!("/people?branch={}", branch.id);
    One { page, action: format!("/branches/{}", branch.id), people, name, time_zone }
}
