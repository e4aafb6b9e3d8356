//! The list of templates by competence, with what is wrong with the bank, and the drafts, above it.

use super::drafts::{DraftRow, of_others, own};
use super::{Choice, ProblemRow, level_words};
use crate::actions::ReadBank;
use crate::domain::bank::{DocumentKind, TemplateEntry};
use crate::domain::scenario::Template;
use crate::store::bank_documents::{self, Document, DocumentKind as StoredKind};
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
    states: Vec<Choice>,
    state: String,
    /// What this trainer is writing, or has sent.
    own: Vec<DraftRow>,
    /// What waits for this trainer's review.
    waiting: Vec<DraftRow>,
    zone: String,
}

/// The states to choose from; the first shows all.
const STATES: [(&str, &str); 5] = [
    ("", "All states"),
    ("clean", "In use"),
    ("problems", "With problems"),
    ("drafts", "Drafts and reviews"),
    ("retired", "Retired"),
];

/// The list, of one competence or of all, of those whose title or name contains something.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let search: String = query.typed("search").chars().filter(|c| !c.is_control()).take(100).collect();
    let competence = query.typed("competence").to_owned();
    let read = app.deeds.bank.now();
    let state = query.typed("state").to_owned();
    let retired = bank_documents::retired_of_kind(&app.deeds.db, StoredKind::Template).await?;
    let retired: Vec<TemplateEntry> = retired.iter().filter_map(|document| retired_entry(&read, document)).collect();
    let wanted = Wish { competence: &competence, search: &search.to_lowercase(), state: &state };
    let groups = groups(&read, &retired, &wanted);
    let (mut own, mut waiting) = (own(&app, &reader).await?, of_others(&app, &reader).await?);
    for drafts in [&mut own, &mut waiting] {
        drafts.retain(|draft| matches!(state.as_str(), "" | "drafts") && draft.key.contains(wanted.search));
    }
    let all = Choice { value: String::new(), text: "All competences".to_owned() };
    let each = read.bank.competences().iter().map(|each| Choice { value: each.id.clone(), text: each.name.clone() });
    let mut page = reader.page("Scenario templates", "/templates");
    page.notice = match query.typed("done") {
        "dropped" => Some("Dropped. Nothing was published."),
        "sent_back" => Some("Sent back: its author sees your remark."),
        _ => None,
    }
    .map(str::to_owned);
    if !read.problems.is_empty() {
        page.notice = Some("The question bank has problems. What worked before stays in use.".to_owned());
    }
    let list = List {
        page,
        problems: read.problems.iter().map(ProblemRow::from).collect(),
        shown: groups.iter().map(|group| group.rows.len()).sum(),
        groups,
        total: read.bank.templates().count() + retired.len(),
        competences: std::iter::once(all).chain(each).collect(),
        competence,
        search,
        states: STATES.map(|(value, text)| Choice { value: value.to_owned(), text: text.to_owned() }).to_vec(),
        state,
        own,
        waiting,
        zone: reader.time_zone,
    };
    reply::page(&app, "pages/templates/list.html", &list)
}

/// What the trainer looks for.
struct Wish<'w> {
    competence: &'w str,
    search: &'w str,
    state: &'w str,
}

fn groups(read: &ReadBank, retired: &[TemplateEntry], wish: &Wish<'_>) -> Vec<Group> {
    let wanted = |entry: &&TemplateEntry| {
        let template = &entry.template;
        template.title.to_lowercase().contains(wish.search) || template.id.contains(wish.search)
    };
    let in_use = |row: &Row| match wish.state {
        "" => true,
        "clean" => row.state == CLEAN,
        "problems" => row.state == PROBLEMS,
        _ => false,
    };
    let competences = read.bank.competences().iter();
    let competences = competences.filter(|each| wish.competence.is_empty() || each.id == wish.competence);
    let groups = competences.map(|each| {
        let of_it = |entry: &&TemplateEntry| entry.template.competence == each.id;
        let used = read.bank.templates().filter(of_it).filter(wanted).map(|entry| row(read, entry)).filter(in_use);
        let gone = retired.iter().filter(of_it).filter(wanted).filter(|_| matches!(wish.state, "" | "retired"));
        let gone = gone.map(|entry| Row { state: "retired", ..row(read, entry) });
        Group { name: each.name.clone(), mandatory: each.mandatory, rows: used.chain(gone).collect() }
    });
    groups.filter(|group| !group.rows.is_empty()).collect()
}

/// A retired template as it was. One that the bank of today cannot read is not listed; its address still shows it.
fn retired_entry(read: &ReadBank, document: &Document) -> Option<TemplateEntry> {
    let file = format!("question-bank/{}", DocumentKind::Template.path(&document.key));
    let template = Template::read(&document.key, &file, &document.source, &read.bank.lexicon()).ok()?;
    Some(TemplateEntry { template, version: u32::try_from(document.version).unwrap_or_default(), file })
}

const CLEAN: &str = "clean";
const PROBLEMS: &str = "problems: a newer text is not used";

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
        kind: template.kind_words(),
        machines: if names.is_empty() { "all".to_owned() } else { names.join(", ") },
        version: entry.version,
        state: if broken { PROBLEMS } else { CLEAN },
    }
}
