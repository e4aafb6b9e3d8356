//! The list: people against competences; for one competence, who may be sent and who not, with dates and reasons.

use super::filter::{Filter, Line, Lines, STATES};
use crate::domain::people::{Permission, Role};
use crate::store::branches;
use crate::store::read::record_head::record_head;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

/// People on one page.
const PAGE: usize = 50;

#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Column {
    name: String,
}

#[derive(Serialize)]
struct Cell {
    state: &'static str,
    note: Option<String>,
}

#[derive(Serialize)]
struct Row {
    name: String,
    href: String,
    note: String,
    cells: Vec<Cell>,
}

#[derive(Serialize)]
struct Candidate {
    name: String,
    href: String,
    branch: String,
    state: &'static str,
    note: Option<String>,
    /// Competences in which a safety miss of this person is open.
    misses: Vec<String>,
}

#[derive(Serialize)]
struct List {
    page: Page,
    branches: Vec<Choice>,
    competences: Vec<Choice>,
    states: Vec<Choice>,
    roles: Vec<Choice>,
    branch: String,
    competence: String,
    state: String,
    role: String,
    search: String,
    /// The competence that was asked for; the list is then `candidates`, else `rows` under `columns`.
    asked: Option<String>,
    said: String,
    columns: Vec<Column>,
    rows: Vec<Row>,
    candidates: Vec<Candidate>,
    from: usize,
    to: usize,
    total: usize,
    before: Option<String>,
    after: Option<String>,
    /// The query of the files; nothing when this reader takes none out.
    file: Option<String>,
    entries: i64,
    hash: String,
    now: i64,
    zone: String,
}

/// The list, fifty people at a time.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let in_use = app.deeds.bank.now();
    let (bank, now, zone) = (&in_use.bank, app.deeds.clock.now(), reader.time_zone.clone());
    let filter = Filter::read(&query, bank);
    let found = Lines::read(&app, bank, &filter, now).await?;
    let head = record_head(&app.deeds.db).await?;
    let all_branches = branches::list(&app.deeds.db).await?;

    let total = found.lines.len();
    let pages = total.div_ceil(PAGE).max(1);
    let number = query.typed("page").parse::<usize>().unwrap_or(1).clamp(1, pages);
    let (first, last) = ((number - 1) * PAGE, (number * PAGE).min(total));
    let shown = &found.lines[first..last];
    let href = |number: usize| format!("/qualified?{}&page={number}", filter.query());
    let (mut rows, mut candidates) = (Vec::new(), Vec::new());
    match found.asked {
        Some(at) => {
            candidates = shown.iter().map(|line| candidate(&found, line, at, &zone)).collect::<Result<_, _>>()?
        }
        None => rows = shown.iter().map(|line| row(line, &zone)).collect::<Result<_, _>>()?,
    }
    let branch_name = filter.branch.and_then(|id| all_branches.iter().find(|branch| branch.id == id));
    let at_branch = branch_name.map_or_else(String::new, |branch| format!(" at {}", branch.name));
    let choices = |first: &str, all: Vec<Choice>| {
        std::iter::once(Choice { value: String::new(), text: first.to_owned() }).chain(all).collect::<Vec<_>>()
    };
    let text = |value: &str, text: &str| Choice { value: value.to_owned(), text: text.to_owned() };
    let context = List {
        page: reader.page("Who is qualified", "/qualified"),
        said: said(&found, &at_branch),
        asked: found.asked.map(|at| found.subjects[at].name.clone()),
        branches: choices("All branches", all_branches.iter().map(|b| text(&b.id.to_string(), &b.name)).collect()),
        competences: choices("All competences", bank.competences().iter().map(|c| text(&c.id, &c.name)).collect()),
        states: choices("All states", STATES.iter().map(|(id, words)| text(id, words)).collect()),
        branch: filter.branch.map(|branch| branch.to_string()).unwrap_or_default(),
        competence: filter.competence.clone().unwrap_or_default(),
        roles: choices("All roles", Role::ALL.iter().map(|role| text(role.id(), role.name())).collect()),
        role: filter.role.map(|role| role.id().to_owned()).unwrap_or_default(),
        state: filter.state.unwrap_or_default().to_owned(),
        search: filter.search.clone(),
        columns: found.subjects.iter().map(|subject| Column { name: subject.name.clone() }).collect(),
        rows,
        candidates,
        from: if total == 0 { 0 } else { first + 1 },
        to: last,
        total,
        before: (number > 1).then(|| href(number - 1)),
        after: (number < pages).then(|| href(number + 1)),
        file: reader.may(Permission::ExportQualifications).then(|| filter.query()),
        entries: head.entries,
        hash: head.hash,
        now: now.0,
        zone,
    };
    reply::page(&app, "pages/qualified/list.html", &context)
}

fn address(line: &Line) -> String {
    format!("/qualified/people/{}", line.row.person_id)
}

fn row(line: &Line, zone: &str) -> Result<Row, PageError> {
    let cell = |stood: &super::super::record::stood::Stood| -> Result<Cell, PageError> {
        Ok(Cell { state: stood.word(), note: stood.note(zone)? })
    };
    Ok(Row {
        name: line.row.display_name.clone(),
        href: address(line),
        note: line.row.branch_name.clone(),
        cells: line.stood.iter().map(cell).collect::<Result<_, _>>()?,
    })
}

fn candidate(found: &Lines, line: &Line, at: usize, zone: &str) -> Result<Candidate, PageError> {
    let open = found.subjects.iter().zip(&line.stood).filter(|(_, stood)| stood.safety_miss_is_open());
    Ok(Candidate {
        name: line.row.display_name.clone(),
        href: address(line),
        branch: line.row.branch_name.clone(),
        state: line.stood[at].word(),
        note: line.stood[at].note(zone)?,
        misses: open.map(|(subject, _)| subject.name.clone()).collect(),
    })
}

/// The answer to the manager's question in a sentence.
fn said(found: &Lines, at_branch: &str) -> String {
    let people = |number: usize| if number == 1 { "1 person".to_owned() } else { format!("{number} people") };
    let total = found.lines.len();
    if let Some(at) = found.asked {
        let may = found.lines.iter().filter(|line| line.stood[at].may_be_sent()).count();
        let verb = if total == 1 { "is" } else { "are" };
        return format!(
            "{} {verb} listed{at_branch}. {may} may be sent to such work today: {}.",
            people(total),
            found.subjects[at].name
        );
    }
    let with =
        |word: &str| found.lines.iter().filter(|line| line.stood.iter().any(|stood| stood.word() == word)).count();
    format!(
        "{}{at_branch}. With something that ends within {} days: {}. With a refresher due: {}. With something suspended: {}. Waiting for a decision: {}.",
        people(total),
        crate::domain::certification::EXPIRING_WITHIN_DAYS,
        with("expiring"),
        with("refresher"),
        with("suspended"),
        with("waits"),
    )
}
