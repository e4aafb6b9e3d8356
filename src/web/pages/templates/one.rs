//! One template: a version's text, its versions, and a preview of its questions.

use super::level_words;
use super::preview::{Preview, Wanted, preview};
use crate::domain::bank::DocumentKind as Kind;
use crate::store::bank_documents::{Document, DocumentKind, DocumentOrigin, versions};
use crate::store::people;
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
    let newest = all.first().ok_or(PageError::NotFound)?.version;
    let wanted = query.typed("version").parse().unwrap_or(newest);
    let shown = all.iter().find(|document| document.version == wanted).ok_or(PageError::NotFound)?;

    let read = app.deeds.bank.now();
    let entry = read.bank.template(&key);
    let title = entry.map_or_else(|| key.clone(), |entry| entry.template.title.clone());
    let competence = entry.and_then(|entry| read.bank.competence(&entry.template.competence));
    let about = entry.map(|entry| {
        let mandatory = if entry.template.mandatory { ", mandatory" } else { "" };
        vec![
            ("Competence", competence.map_or_else(String::new, |each| format!("{}{mandatory}", each.name))),
            ("Level", level_words(entry.template.level).to_owned()),
            ("Kind", entry.template.kind.words().to_owned()),
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
    (query.typed("done") == "published").then(|| format!("Published: version {newest} is in use from now on."))
}

async fn row(app: &App, document: &Document, shown: bool) -> Result<Version, PageError> {
    let by = match (document.origin, document.author_id) {
        (DocumentOrigin::Editor, Some(author)) => people::by_id(&app.deeds.db, author).await?.display_name,
        _ => format!("the file {}", Kind::Template.path(&document.key)),
    };
    Ok(Version { version: document.version, at: document.created_at.0, by, shown })
}
