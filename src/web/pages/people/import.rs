//! Bringing people in from a roster.

use crate::actions::import_people::{COLUMNS, Import, RowProblem, UnknownBranches, import_people};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/people/import.html";

#[derive(Serialize)]
struct ImportPage<'a> {
    page: Page,
    columns: String,
    roster: &'a str,
    add_branches: bool,
    problems: Vec<RowProblem>,
}

/// The form.
///
/// # Errors
/// The page cannot be drawn.
pub async fn form(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let page = reader.page("Bring people in", "/people");
    let context =
        ImportPage { page, columns: COLUMNS.join(","), roster: "", add_branches: false, problems: Vec::new() };
    reply::page(&app, TEMPLATE, &context)
}

/// Brings everyone in, or shows every row that is wrong.
///
/// # Errors
/// The program cannot do it now.
pub async fn submit(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let mut read = Reader::new(&fields);
    let add_branches = fields.typed("add_branches") == "yes";
    let unknown = if add_branches {
        UnknownBranches::Add { time_zone: app.settings.time_zone.clone() }
    } else {
        UnknownBranches::Refuse
    };
    let text = read.lines("roster", |typed| {
        if typed.trim().is_empty() {
            Err("Put the roster in here: a heading and one row per person.")
        } else {
            Ok(typed)
        }
    });
    let mut problems = Vec::new();
    if let Some(text) = text {
        match import_people(&app.deeds, Some(reader.person), text, unknown).await? {
            Import::Done { people, .. } => {
                return Ok(reply::see_other(&format!("/people?done=imported&people={people}")));
            }
            Import::Refused(found) => {
                read.wrong("roster", format!("Nobody was brought in: {} rows to put right.", lines(&found)));
                problems = found;
            }
        }
    }
    let mut page = reader.page("Bring people in", "/people");
    page.errors = read.into_errors();
    let roster = fields.typed("roster");
    reply::form_again(&app, TEMPLATE, &ImportPage { page, columns: COLUMNS.join(","), roster, add_branches, problems })
}

/// How many different rows have a problem.
fn lines(problems: &[RowProblem]) -> usize {
    let mut lines: Vec<u64> = problems.iter().map(|problem| problem.line).collect();
    lines.sort_unstable();
    lines.dedup();
    lines.len()
}
