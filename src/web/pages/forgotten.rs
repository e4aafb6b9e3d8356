//! `/forgotten`: asking for a link to choose another password.
//!
//! Never tells whether there is such a person, by words or by time: the reply does not wait for the looking up.

use crate::actions::ask_for_password::ask_for_password;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct Forgotten {
    page: Page,
    asked: bool,
}

fn drawn(app: &App, asked: bool) -> Result<HttpResponse, PageError> {
    let page = Page { title: "Password forgotten".to_owned(), ..Page::default() };
    reply::page(app, "pages/sign_in/forgotten.html", &Forgotten { page, asked })
}

/// The form.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>) -> Result<HttpResponse, PageError> {
    drawn(&app, false)
}

/// Says the same to everybody, and writes the letter meanwhile when there is somebody to write to.
///
/// # Errors
/// The page cannot be drawn.
pub async fn ask(app: web::Data<App>, fields: Fields) -> Result<HttpResponse, PageError> {
    let (deeds, email) = (app.deeds.clone(), fields.typed("email").to_owned());
    actix_web::rt::spawn(async move {
        if let Err(cause) = ask_for_password(&deeds, &email).await {
            tracing::warn!(%cause, "a link for a forgotten password was not written");
        }
    });
    drawn(&app, true)
}
