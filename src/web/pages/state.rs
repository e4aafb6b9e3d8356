//! `/health`, `/ready` and `/metrics`, for whoever watches over the server. They say nothing about anybody.

use crate::store::branches;
use crate::web::App;
use crate::web::error::PageError;
use crate::web::guard::same;
use crate::web::metrics::written;
use actix_web::http::header::AUTHORIZATION;
use actix_web::{HttpRequest, HttpResponse, web};

/// The program runs.
pub async fn health() -> HttpResponse {
    HttpResponse::Ok().content_type("text/plain; charset=utf-8").body("ok\n")
}

/// The program runs and its database answers.
///
/// # Errors
/// The database does not answer.
pub async fn ready(app: web::Data<App>) -> Result<HttpResponse, PageError> {
    branches::list(&app.deeds.db).await?;
    Ok(HttpResponse::Ok().content_type("text/plain; charset=utf-8").body("ready\n"))
}

/// What is counted, for a program that brings the token of the settings. For everybody else there is no such page.
///
/// # Errors
/// No token is set, or another one is brought.
pub async fn metrics(app: web::Data<App>, request: HttpRequest) -> Result<HttpResponse, PageError> {
    let header = request.headers().get(AUTHORIZATION).and_then(|header| header.to_str().ok()).unwrap_or_default();
    let (scheme, brought) = header.split_once(' ').unwrap_or_default();
    let wanted = app.settings.metrics_token.as_ref().ok_or(PageError::NotFound)?;
    if !scheme.eq_ignore_ascii_case("bearer") || !same(wanted.reveal(), brought.trim()) {
        return Err(PageError::NotFound);
    }
    let text = written(&app).await.map_err(|error| PageError::Fault(error.to_string()))?;
    Ok(HttpResponse::Ok().content_type("application/openmetrics-text; version=1.0.0; charset=utf-8").body(text))
}
