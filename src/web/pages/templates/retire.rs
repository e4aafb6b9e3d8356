//! Retiring a template, with a reason.

use super::review::said_something;
use crate::actions::retire_template::{Retired, Wish, retire_template};
use crate::store::bank_documents::{DocumentKind, versions};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/templates/retire.html";

#[derive(Serialize)]
struct Retire {
    page: Page,
    key: String,
    version: i32,
    needed: Vec<String>,
    reason: String,
}

/// Asks for the reason.
///
/// # Errors
/// [`PageError::NotFound`] when there is no such template.
pub async fn ask(
    app: web::Data<App>,
    path: web::Path<(String, String)>,
    reader: SignedIn,
) -> Result<HttpResponse, PageError> {
    let key = format!("{}/{}", path.0, path.1);
    let all = versions(&app.deeds.db, DocumentKind::Template, &key).await?;
    let version = all.first().ok_or(PageError::NotFound)?.version;
    let page = reader.page(&format!("Retire {key}"), "/templates");
    reply::page(&app, TEMPLATE, &Retire { page, key, version, needed: Vec::new(), reason: String::new() })
}

/// Retires it.
///
/// # Errors
/// The program cannot do it now.
pub async fn submit(
    app: web::Data<App>,
    path: web::Path<(String, String)>,
    reader: SignedIn,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let key = format!("{}/{}", path.0, path.1);
    let all = versions(&app.deeds.db, DocumentKind::Template, &key).await?;
    let newest = all.first().ok_or(PageError::NotFound)?.version;
    let mut read = Reader::new(&fields);
    let reason = read.lines("reason", said_something);
    let version = fields.typed("version").parse().unwrap_or(newest);
    let mut needed = Vec::new();
    if let Some(reason) = reason {
        let base = u32::try_from(version).unwrap_or_default();
        let though_needed = fields.typed("though_needed") == "yes";
        match retire_template(&app.deeds, reader.person, Wish { key: &key, base, reason: &reason, though_needed })
            .await?
        {
            Retired::Retired => return Ok(reply::see_other(&format!("/templates/{key}?done=retired"))),
            Retired::NotInUse => return Ok(reply::see_other(&format!("/templates/{key}"))),
            Retired::Overtaken(_) => {
                read.wrong("reason", "Not retired: another version was published since you looked. Look at it first.");
            }
            Retired::Needed(examinations) => {
                read.wrong("reason", "Not retired yet: examinations need it. They are named below.");
                needed = examinations;
            }
        }
    }
    let page = Page { errors: read.into_errors(), ..reader.page(&format!("Retire {key}"), "/templates") };
    let reason = fields.typed("reason").to_owned();
    reply::form_again(&app, TEMPLATE, &Retire { page, key, version: newest, needed, reason })
}
