//! The list of templates by competence, with what is wrong with the bank above it.

use super::{Choice, ProblemRow, level_words};
use crate::actions::ReadBank;
use crate::domain::bank::{DocumentKind, TemplateEntry};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct Row {
    key: String,
    title: String,
    level: &'static str,
    kind: &'static str,
    machines: String,
    version: u32,
    state: &'static str,
}

#[derive(Serialize)]
struct Group {
    name: String,
    mandatory: bool,
    rows: Vec<Row>,
}

#[derive(Serialize)]
struct List {
    page: Page,
    problems: Vec<ProblemRow>,
    groups: Vec<Group>,
    shown: usize,
    total: usize,
    competences: Vec<Choice>,
    competence: String,
    search: String,
}

/// The list, of one competence or of all, of those whose title or name contains something.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let search: String = query.typed("search").chars().filter(|c| !c.is_control()).take(100).collect();
    let competence = query.typed("competence").to_owned();
    let read = app.deeds.bank.now();
    let groups = groups(&read, &competence, &search.to_lowercase());
    let all = Choice { value: String::new(), text: "All competences".to_owned() };
    let each = read.bank.competences().iter().map(|each| Choice { value: each.id.clone(), text: each.name.clone() });
    let mut page = reader.page("Scenario templates", "/templates");
    if !read.problems.is_empty() {
        page.notice = Some("The question bank has problems. What worked before stays in use.".to_owned());
    }
    let list = List {
        page,
        problems: read.problems.iter().map(ProblemRow::from).collect(),
        shown: groups.iter().map(|group| group.rows.len()).sum(),
        groups,
        total: read.bank.templates().count(),
        competences: std::iter::once(all).chain(each).collect(),
        competence,
        search,
    };
    reply::page(&app, "pages/templates/list.html", &list)
}

fn groups(read: &ReadBank, competence: &str, search: &str) -> Vec<Group> {
    let wanted = |entry: &&TemplateEntry| {
        let template = &entry.template;
        template.title.to_lowercase().contains(search) || template.id.contains(search)
    };
    let competences = read.bank.competences().iter().filter(|each| competence.is_empty() || each.id == competence);
    let groups = competences.map(|each| Group {
        name: each.name.clone(),
        mandatory: each.mandatory,
        rows: read
            .bank
            .templates()
            .filter(|entry| entry.template.competence == each.id)
            .filter(wanted)
            .map(|entry| row(read, entry))
            .collect(),
    });
    groups.filter(|group| !group.rows.is_empty()).collect()
}

fn row(read: &ReadBank, entry: &TemplateEntry) -> Row {
    let template = &entry.template;
    let names = template.machines.iter().filter_map(|id| read.bank.machine(id)).map(|each| each.profile.name.clone());
    let names: Vec<String> = names.collect();
    let path = DocumentKind::Template.path(&template.id);
    let broken = read.problems.iter().any(|problem| problem.file == entry.file || problem.file.ends_with(&path));
    Row {
        key: template.id.clone(),
        title: template.title.clone(),
        level: level_words(template.level),
        kind: template.kind.words(),
        machines: if names.is_empty() { "all".to_owned() } else { names.join(", ") },
        version: entry.version,
        state: if broken { "problems: a newer text is not used" } else { "clean" },
    }
}
