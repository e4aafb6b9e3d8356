//! `/letters`: what was written to whom and what became of it. `/letters/stop/...`: ending letters of a kind with the link in
//! one of them, by mail programs and by people.
//!
//! Never says whether a link is one: whoever guesses learns nothing.

mod sent;

pub use sent::sent;

use crate::actions::Token;
use crate::actions::letter_choices::end_letters;
use crate::web::error::PageError;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct Stop {
    page: Page,
    secret: String,
    /// Whether the button was pressed.
    done: bool,
}

/// The page with one button. Looking ends nothing: mail programs look at links by themselves.
///
/// # Errors
/// The page cannot be drawn.
pub async fn stop_form(app: web::Data<App>, secret: web::Path<String>) -> Result<HttpResponse, PageError> {
    drawn(&app, secret.into_inner(), false)
}

/// Ends them. Source: RFC 8058 section 3.2: a POST without cookies or any other sign of who asks.
///
/// # Errors
/// The program cannot do it now.
pub async fn stop(app: web::Data<App>, secret: web::Path<String>) -> Result<HttpResponse, PageError> {
    if let Some(secret) = Token::from_text(&secret) {
        end_letters(&app.deeds, &secret).await?;
    }
    drawn(&app, secret.into_inner(), true)
}

fn drawn(app: &App, secret: String, done: bool) -> Result<HttpResponse, PageError> {
    let title = if done { "No more of these letters" } else { "End these letters" };
    let page = Page { title: title.to_owned(), ..Page::default() };
    reply::page(app, "pages/letters/stop.html", &Stop { page, secret, done })
}
