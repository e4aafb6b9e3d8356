//! `/record/sitting/{attempt}/appeal`: appealing against the refusal after one's own examination.

use super::events::scheme_title;
use crate::actions::appeal::{Lodged, lodge_appeal};
use crate::domain::certification::decision::Verdict;
use crate::domain::visible::says_something;
use crate::store::{AttemptId, attempts, decisions};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/record/appeal.html";
/// Longest text that is kept, in characters; chosen by us.
pub(in crate::web::pages) const LONGEST_TEXT: usize = 2000;

#[derive(Serialize)]
struct AppealPage {
    page: Page,
    action: String,
    scheme: String,
    refused_at: i64,
    reason: String,
    text: String,
    zone: String,
}

/// The form.
///
/// # Errors
/// No such refusal of this person's that nobody has appealed against, or the program cannot do it now.
pub async fn appeal_form(app: web::Data<App>, reader: SignedIn, id: web::Path<i64>) -> Result<HttpResponse, PageError> {
    let page = form(&app, &reader, AttemptId(id.into_inner()), String::new(), Vec::new()).await?;
    reply::page(&app, TEMPLATE, &page)
}

/// Appeals.
///
/// # Errors
/// No such refusal of this person's, or the program cannot do it now.
pub async fn appeal(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let attempt = AttemptId(id.into_inner());
    let mut read = Reader::new(&fields);
    let text =
        read.lines("text", |typed| said(typed, "Write what you think was wrong, so that somebody can look into it."));
    if let Some(text) = text {
        return match lodge_appeal(&app.deeds, reader.person, attempt, &text).await? {
            // Twice is harmless: the first one stands, and the record shows it.
            Lodged::Done | Lodged::Before => Ok(reply::see_other("/record")),
            Lodged::NothingRefused => Err(PageError::NotFound),
        };
    }
    let typed = fields.typed("text").to_owned();
    let errors = read.into_errors();
    reply::form_again(&app, TEMPLATE, &form(&app, &reader, attempt, typed, errors).await?)
}

/// A text that says something and is not too long.
pub(in crate::web::pages) fn said(typed: &str, nothing: &'static str) -> Result<String, &'static str> {
    match typed.trim() {
        text if !says_something(text) => Err(nothing),
        text if text.chars().count() > LONGEST_TEXT => Err("This is too long. Keep it under 2000 characters."),
        text => Ok(text.to_owned()),
    }
}

async fn form(
    app: &App,
    reader: &SignedIn,
    attempt: AttemptId,
    text: String,
    errors: Vec<FieldError>,
) -> Result<AppealPage, PageError> {
    let db = &app.deeds.db;
    let own = attempts::by_id(db, reader.person, attempt).await?;
    let decision = decisions::find(db, attempt).await?.filter(|decision| decision.verdict == Verdict::Refused);
    let Some(decision) = decision else { return Err(PageError::NotFound) };
    if decisions::find_appeal(db, attempt).await?.is_some() {
        return Err(PageError::NotFound);
    }
    let mut page = reader.page("Appeal", "/record");
    page.errors = errors;
    Ok(AppealPage {
        page,
        action: format!("/record/sitting/{attempt}/appeal"),
        scheme: scheme_title(&app.deeds.bank.now().bank, own.scheme_key.as_deref()),
        refused_at: decision.decided_at.0,
        reason: decision.reason,
        text,
        zone: reader.time_zone.clone(),
    })
}
