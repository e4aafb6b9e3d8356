//! `/`: what to do next.

use crate::web::App;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::reply;
use crate::web::view::Page;
use actix_web::{HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct Home {
    page: Page,
    branch: String,
}

/// Greets, and shows the places.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let page = reader.page("What to do next", "/");
    reply::page(&app, "pages/home/home.html", &Home { page, branch: reader.branch_name })
}
