//! `/check/{code}`: whether the certificate behind a paper's code is valid, its scope and its dates; for anyone.
//!
//! Never a name, a number or a reason, and nothing that tells a code that was never given out from a text that cannot be one. Sets no
//! cookie and asks not to be listed by search engines.

use super::decisions::scope_of;
use super::record::scheme_title;
use crate::actions::issuer::issuer;
use crate::actions::note_check::note_check;
use crate::store::certificates::{self, Certificate};
use crate::store::read::certification;
use crate::store::{StoreError, branches, people};
use crate::web::error::PageError;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::http::StatusCode;
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/check/check.html";

#[derive(Default, Serialize)]
struct CheckPage {
    page: Page,
    /// Whether there is such a certificate.
    known: bool,
    valid: bool,
    scheme: String,
    scheme_version: i32,
    competences: Vec<String>,
    machines: Vec<String>,
    valid_from: i64,
    valid_until: i64,
    checked_at: i64,
    zone: String,
}

/// Looks a code up.
///
/// # Errors
/// The program cannot do it now.
pub async fn show(app: web::Data<App>, code: web::Path<String>) -> Result<HttpResponse, PageError> {
    let context = match issuer(&app.deeds).await?.certificate_of(&code) {
        Some(id) => known(&app, certificates::by_id(&app.deeds.db, id).await).await?,
        None => None,
    };
    let status = if context.is_some() { StatusCode::OK } else { StatusCode::NOT_FOUND };
    let page = Page { title: "Check a certificate".to_owned(), ..Page::default() };
    let context = context.unwrap_or_default();
    let mut reply = reply::page(&app, TEMPLATE, &CheckPage { page, ..context })?;
    *reply.status_mut() = status;
    let hidden = HeaderValue::from_static("noindex, nofollow, noarchive");
    reply.headers_mut().insert(HeaderName::from_static("x-robots-tag"), hidden);
    Ok(reply)
}

/// What the page says of a certificate; nothing when its row is not there. That one is looked up that is not valid is put on record.
async fn known(app: &App, found: Result<Certificate, StoreError>) -> Result<Option<CheckPage>, PageError> {
    let of = match found {
        Ok(of) => of,
        Err(StoreError::NotFound) => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    let (db, now, in_use) = (&app.deeds.db, app.deeds.clock.now(), app.deeds.bank.now());
    let state = certification::of_person(db, of.entry.person_id).await?.state_of(&of, now);
    if !state.stands() {
        note_check(&app.deeds, &of, state).await?;
    }
    let branch = people::by_id(db, of.entry.person_id).await?.branch_id;
    let (competences, machines) = scope_of(app, &in_use.bank, &of).await?;
    Ok(Some(CheckPage {
        page: Page::default(),
        known: true,
        valid: state.stands(),
        scheme: scheme_title(&in_use.bank, Some(&of.entry.scheme_key)),
        scheme_version: of.entry.scheme_version,
        competences,
        machines,
        valid_from: of.entry.valid_from.0,
        valid_until: of.entry.valid_until.0,
        checked_at: now.0,
        zone: branches::by_id(db, branch).await?.time_zone,
    }))
}
