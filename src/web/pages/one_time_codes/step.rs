//! `/sign-in/code`: the one-time code after the password.

use super::{WRONG, wait};
use crate::actions::give_code::{CodeGiven, give_code};
use crate::store::sessions::WaitsFor;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::halfway::{self, Halfway};
use crate::web::held::Held;
use crate::web::pages::sign_in::signed_in;
use crate::web::view::FieldError;
use crate::web::{App, address, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/one_time_codes/step.html";

#[derive(Serialize)]
struct Step {
    page: crate::web::view::Page,
    form_token: String,
    next: String,
    held: Option<Held>,
}

impl Step {
    fn of(half: &Halfway, next: &str, held: Option<Held>, errors: Vec<FieldError>) -> Self {
        let mut page = half.page("Your one-time code");
        page.errors = errors;
        Self { page, form_token: half.form_token.clone(), next: next.to_owned(), held }
    }
}

/// The form.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, request: HttpRequest, half: Halfway) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let next = address::own_path(query.typed("next")).unwrap_or_default();
    if half.waits_for != WaitsFor::Code {
        return Ok(reply::see_other(&halfway::step(half.waits_for, next)));
    }
    reply::page(&app, TEMPLATE, &Step::of(&half, next, None, Vec::new()))
}

/// The form in the reply to a password with which typed text came along.
pub(in crate::web::pages) fn with_held(app: &App, half: &Halfway, held: Held) -> Result<HttpResponse, PageError> {
    reply::page(app, TEMPLATE, &Step::of(half, "", Some(held), Vec::new()))
}

/// Takes the code and signs in.
///
/// # Errors
/// The program cannot do it now.
pub async fn give(app: web::Data<App>, half: Halfway, fields: Fields) -> Result<HttpResponse, PageError> {
    let next = address::own_path(fields.typed("next")).unwrap_or_default();
    let message = match give_code(&app.deeds, &half.token, fields.typed("code")).await? {
        CodeGiven::SignedIn(token) => return signed_in(&app, &token, Held::read(&fields), next).await,
        CodeGiven::Over => return Err(PageError::SignedOut(Held::read(&fields))),
        CodeGiven::Wrong => WRONG.to_owned(),
        CodeGiven::Wait(seconds) => wait(seconds),
    };
    let errors = vec![FieldError { field: "code".to_owned(), message }];
    reply::form_again(&app, TEMPLATE, &Step::of(&half, next, Held::read(&fields), errors))
}
