//! Beginning a draft: of a new scenario by its name, or of a scenario that is there.

use crate::actions::publish_template::name_problem;
use crate::actions::write_template::begin_template;
use crate::store::bank_documents::{DocumentKind, versions};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/templates/new.html";

/// What a new template begins with: every section, each with something to replace.
const BLANK: &str = "title: \ncompetence: \nlevel: 1\nkind: choose one\nmachines: all\nshow: soot\nfigure: lamps\n\n[draw]\nload0 = inside parked keep 3 %\n\n[situation]\nsoot = load0\n\n[story]\n\n\n[question]\nWhat do you do first?\n\n[answer]\nask: route\n";

#[derive(Serialize)]
struct New {
    page: Page,
    key: String,
}

/// Asks for the name of a new template.
///
/// # Errors
/// The page cannot be drawn.
pub async fn ask(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    reply::page(&app, TEMPLATE, &New { page: reader.page("New scenario template", "/templates"), key: String::new() })
}

/// Begins a draft of a new template.
///
/// # Errors
/// The program cannot do it now.
pub async fn fresh(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let mut read = Reader::new(&fields);
    let key = read.line("key", |key| {
        let key = key.trim().to_lowercase();
        name_problem(&key).map_or(Ok(key), Err)
    });
    if let Some(key) = key {
        if versions(&app.deeds.db, DocumentKind::Template, &key).await?.is_empty() {
            let draft = begin_template(&app.deeds, reader.person, &key, Some(BLANK)).await?;
            return Ok(reply::see_other(&format!("/templates/drafts/{draft}")));
        }
        read.wrong("key", "There is a scenario of this name already. Open it from the list and press Change it.");
    }
    let page = Page { errors: read.into_errors(), ..reader.page("New scenario template", "/templates") };
    reply::form_again(&app, TEMPLATE, &New { page, key: fields.typed("key").to_owned() })
}

/// Begins a draft of a template's newest version, or goes on with the one that this trainer has begun.
///
/// # Errors
/// [`PageError::NotFound`] when there is no such template.
pub async fn again(
    app: web::Data<App>,
    path: web::Path<(String, String)>,
    reader: SignedIn,
) -> Result<HttpResponse, PageError> {
    let key = format!("{}/{}", path.0, path.1);
    if versions(&app.deeds.db, DocumentKind::Template, &key).await?.is_empty() {
        return Err(PageError::NotFound);
    }
    let draft = begin_template(&app.deeds, reader.person, &key, None).await?;
    Ok(reply::see_other(&format!("/templates/drafts/{draft}")))
}
