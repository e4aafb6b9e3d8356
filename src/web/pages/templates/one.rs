//! One template: a version's text, what changed in it, who did what to it and when, and a preview of its questions.

use super::changes::{Change, changes};
use super::level_words;
use super::preview::{Preview, Wanted, preview};
use crate::domain::bank::DocumentKind as Kind;
use crate::domain::scenario::Template;
use crate::store::bank_documents::{Document, DocumentKind, DocumentOrigin, DocumentState, versions};
use crate::store::{people, record};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

/// A version as a row.
#[derive(Serialize)]
struct Version {
    version: i32,
    at: i64,
    by: String,
    /// What the record says about it: a reviewer's remark, a reason.
    said: String,
    retired: bool,
    shown: bool,
}

#[derive(Serialize)]
struct One {
    page: Page,
    key: String,
    title: String,
    about: Vec<(&'static str, String)>,
    version: i32,
    newest: i32,
    retired: bool,
    /// The version before the one that is shown; 0 when there is none.
    before: i32,
    changes: Vec<Change>,
    text: String,
    lines: usize,
    versions: Vec<Version>,
    zone: String,
    preview: Preview,
}

/// The newest version, or the one that the address asks for.
///
/// # Errors
/// [`PageError::NotFound`] when there is no such template or version.
pub async fn show(
    app: web::Data<App>,
    path: web::Path<(String, String)>,
    request: HttpRequest,
    reader: SignedIn,
) -> Result<HttpResponse, PageError> {
    let key = format!("{}/{}", path.0, path.1);
    let query = Fields::from_text(request.query_string())?;
    let all = versions(&app.deeds.db, DocumentKind::Template, &key).await?;
    let latest = all.first().ok_or(PageError::NotFound)?;
    let (newest, retired) = (latest.version, latest.state == DocumentState::Retired);
    let wanted = query.typed("version").parse().unwrap_or(newest);
    let shown = all.iter().find(|document| document.version == wanted).ok_or(PageError::NotFound)?;

    let before = all.iter().find(|document| document.version < wanted);
    let read = app.deeds.bank.now();
    let entry = read.bank.template(&key);
    let from_text = || Template::read(&key, &key, &latest.source, &read.bank.lexicon()).ok();
    let title = entry.map(|entry| entry.template.title.clone());
    let title = title.or_else(|| from_text().map(|template| template.title)).unwrap_or_else(|| key.clone());
    let competence = entry.and_then(|entry| read.bank.competence(&entry.template.competence));
    let about = entry.map(|entry| {
        let mandatory = if entry.template.mandatory { ", mandatory" } else { "" };
        vec![
            ("Competence", competence.map_or_else(String::new, |each| format!("{}{mandatory}", each.name))),
            ("Level", level_words(entry.template.level).to_owned()),
            ("Kind", entry.template.kind_words().to_owned()),
            ("Version in use", entry.version.to_string()),
        ]
    });
    let mut rows = Vec::new();
    for document in &all {
        rows.push(row(&app, document, document.version == wanted).await?);
    }
    let mut page = reader.page(&title, "/templates");
    page.notice = notice(&query, newest);
    let preview = {
        let (bank, key, text) = (read.clone(), key.clone(), shown.source.clone());
        let version = u32::try_from(shown.version).unwrap_or_default();
        let wanted = Wanted::read(&query, reader.temperature_unit);
        web::block(move || preview(&bank.bank, &key, &text, version, wanted)).await
    };
    let one = One {
        page,
        title,
        about: about.unwrap_or_default(),
        version: wanted,
        newest,
        retired,
        before: before.map_or(0, |before| before.version),
        changes: before.map(|before| changes(&before.source, &shown.source)).unwrap_or_default(),
        lines: shown.source.lines().count(),
        text: shown.source.clone(),
        versions: rows,
        zone: reader.time_zone,
        preview: preview.map_err(|error| PageError::Fault(error.to_string()))?,
        key,
    };
    reply::page(&app, "pages/templates/one.html", &one)
}

fn notice(query: &Fields, newest: i32) -> Option<String> {
    match query.typed("done") {
        "published" => Some(format!("Published: version {newest} is in use from now on.")),
        "retired" => Some("Retired: no new question comes from it.".to_owned()),
        _ => None,
    }
}

async fn row(app: &App, document: &Document, shown: bool) -> Result<Version, PageError> {
    let db = &app.deeds.db;
    let author = match document.author_id {
        Some(author) => people::by_id(db, author).await?.display_name,
        None => String::new(),
    };
    let by = match (document.origin, author.is_empty()) {
        (DocumentOrigin::Editor, false) => author,
        _ => format!("the file {}", Kind::Template.path(&document.key)),
    };
    let entry = record::of_subject(db, "bank_document", document.id.0).await?.pop();
    let detail = entry.as_ref().and_then(|entry| serde_json::from_str::<serde_json::Value>(&entry.detail).ok());
    let text = |name: &str| detail.as_ref().and_then(|detail| detail[name].as_str()).unwrap_or_default().to_owned();
    let actor = match entry.as_ref().and_then(|entry| entry.actor_id) {
        Some(actor) => people::by_id(db, actor).await?.display_name,
        None => String::new(),
    };
    let said = match entry.as_ref().map(|entry| entry.deed.as_str()) {
        Some("template_approved") => format!("Approved by {actor}: {}", text("remark")),
        Some("template_retired") => format!("Retired: {}", text("reason")),
        Some("template_imported") => "Taken in on the command line".to_owned(),
        _ => String::new(),
    };
    let retired = document.state == DocumentState::Retired;
    Ok(Version { version: document.version, at: document.created_at.0, by, said, retired, shown })
}
