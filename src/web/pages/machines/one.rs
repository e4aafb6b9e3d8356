//! One machine as a sheet: a version's bands, lamps, procedure, cautions, plots and numbers, and its versions.

use super::Fact;
use super::numbers::{Group, groups};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::bank::DocumentKind as Kind;
use crate::domain::people::Permission;
use crate::store::bank_documents::{Document, DocumentKind, DocumentOrigin, versions};
use crate::store::people;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::lesson::OfMachine;
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
    id: String,
    facts: Vec<Fact>,
    version: i32,
    newest: i32,
    /// Nothing when the program no longer reads a version this old.
    sheet: Option<OfMachine>,
    groups: Vec<Group>,
    text: String,
    versions: Vec<Version>,
    zone: String,
    may_write: bool,
}

/// The newest version, or the one that the address asks for.
///
/// # Errors
/// [`PageError::NotFound`] when there is no such machine or version.
pub async fn show(
    app: web::Data<App>,
    path: web::Path<String>,
    request: HttpRequest,
    reader: SignedIn,
) -> Result<HttpResponse, PageError> {
    let id = path.into_inner();
    let query = Fields::from_text(request.query_string())?;
    let all = versions(&app.deeds.db, DocumentKind::Machine, &id).await?;
    let newest = all.first().ok_or(PageError::NotFound)?.version;
    let wanted = query.typed("version").parse().unwrap_or(newest);
    let shown = all.iter().find(|document| document.version == wanted).ok_or(PageError::NotFound)?;
    let profile = Profile::read(&id, &shown.source).ok();
    let in_use = app.deeds.bank.now().bank.machine(&id).map(|machine| machine.version);
    let may_write = reader.may(Permission::DescribeMachines);

    let mut rows = Vec::new();
    for document in &all {
        rows.push(row(&app, document, document.version == wanted).await?);
    }
    let title = profile.as_ref().map_or(id.as_str(), |profile| &profile.name);
    let mut page = reader.page(title, "/machines");
    page.notice = (may_write && query.typed("done") == "published")
        .then(|| format!("Published: version {newest} is in use from now on."));
    let unit = reader.temperature_unit;
    let one = One {
        page,
        facts: facts(&id, profile.as_ref(), in_use),
        version: wanted,
        newest,
        sheet: profile.as_ref().map(|profile| OfMachine::new(profile, unit)),
        groups: groups(&shown.source, unit),
        text: shown.source.clone(),
        versions: rows,
        zone: reader.time_zone,
        may_write,
        id,
    };
    reply::page(&app, "pages/machines/one.html", &one)
}

fn facts(id: &str, profile: Option<&Profile>, in_use: Option<u32>) -> Vec<Fact> {
    let fact = |label: &str, value: String| Fact { label: label.to_owned(), value };
    let kind = profile.map(|profile| fact("Machine", profile.kind.clone()));
    let filter = profile.map(|profile| fact("Filter", profile.filter.coating.name().to_owned()));
    let in_use = in_use.map_or_else(|| "none".to_owned(), |version| version.to_string());
    let rest = [fact("Name in files", id.to_owned()), fact("Version in use", in_use)];
    kind.into_iter().chain(filter).chain(rest).collect()
}

async fn row(app: &App, document: &Document, shown: bool) -> Result<Version, PageError> {
    let by = match (document.origin, document.author_id) {
        (DocumentOrigin::Editor, Some(author)) => people::by_id(&app.deeds.db, author).await?.display_name,
        _ => format!("the file {}", Kind::Machine.path(&document.key)),
    };
    Ok(Version { version: document.version, at: document.created_at.0, by, shown })
}
