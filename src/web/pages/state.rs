//! `/health` and `/ready`, for whoever watches over the server. They say nothing about anybody.

use crate::store::branches;
use crate::web::App;
use crate::web::error::PageError;
use actix_web::{HttpResponse, web};

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
