//! The replies of a handler: a page, the same form again with what is wrong, "too late", or "go there now".

use super::App;
use super::error::PageError;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::{CACHE_CONTROL, HeaderMap, HeaderValue};
use serde::Serialize;

/// A page.
///
/// # Errors
/// When the template cannot be drawn.
pub fn page(app: &App, template: &str, context: &(impl Serialize + ?Sized)) -> Result<HttpResponse, PageError> {
    drawn(app, StatusCode::OK, template, context)
}

/// The page of a form that was wrong, with what was typed and the errors in its `page.errors`.
///
/// # Errors
/// When the template cannot be drawn.
pub fn form_again(app: &App, template: &str, context: &(impl Serialize + ?Sized)) -> Result<HttpResponse, PageError> {
    drawn(app, StatusCode::UNPROCESSABLE_ENTITY, template, context)
}

/// A page about something that can no longer be done.
///
/// # Errors
/// When the template cannot be drawn.
pub fn gone(app: &App, template: &str, context: &(impl Serialize + ?Sized)) -> Result<HttpResponse, PageError> {
    drawn(app, StatusCode::GONE, template, context)
}

/// Go to another page with GET: what every form that was right ends in, so that loading again sends nothing twice.
#[must_use]
pub fn see_other(path: &str) -> HttpResponse {
    HttpResponse::SeeOther().insert_header(("location", path)).finish()
}

/// Keeps a reply out of every cache unless it says otherwise itself.
pub(crate) fn no_store(headers: &mut HeaderMap) {
    if !headers.contains_key(CACHE_CONTROL) {
        headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
}

fn drawn(
    app: &App,
    status: StatusCode,
    template: &str,
    context: &(impl Serialize + ?Sized),
) -> Result<HttpResponse, PageError> {
    let body = app.views.render(template, context)?;
    Ok(HttpResponse::build(status).content_type("text/html; charset=utf-8").body(body))
}
