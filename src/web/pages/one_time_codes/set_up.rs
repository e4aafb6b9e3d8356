//! `/sign-in/set-up`: setting one-time codes up before anything else, for roles that need them.

use super::{Shown, WRONG, recovery_page, wait};
use crate::actions::set_up_codes::{WithCode, confirm_key, offer_key};
use crate::store::sessions::WaitsFor;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::halfway::{self, Halfway};
use crate::web::view::{FieldError, Page};
use crate::web::{App, address, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/one_time_codes/set_up.html";

#[derive(Serialize)]
struct SetUp {
    page: Page,
    form_token: String,
    offer: Shown,
    next: String,
}

/// The key, and the form for its first code.
///
/// # Errors
/// The program cannot do it now.
pub async fn show(app: web::Data<App>, request: HttpRequest, half: Halfway) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let next = address::own_path(query.typed("next")).unwrap_or_default();
    if half.waits_for != WaitsFor::SetUp {
        return Ok(reply::see_other(&halfway::step(half.waits_for, next)));
    }
    drawn(&app, &half, next, Vec::new()).await
}

/// Takes the first code, signs in, and shows the recovery codes.
///
/// # Errors
/// The program cannot do it now.
pub async fn confirm(app: web::Data<App>, half: Halfway, fields: Fields) -> Result<HttpResponse, PageError> {
    let next = address::own_path(fields.typed("next")).unwrap_or_default();
    if half.waits_for != WaitsFor::SetUp {
        return Ok(reply::see_other(&halfway::step(half.waits_for, next)));
    }
    let message = match confirm_key(&app.deeds, half.person, fields.typed("code"), half.device).await? {
        WithCode::Done(done) => {
            let page = half.page("Your recovery codes");
            return recovery_page(&app, page, done.recovery, next, Some(&done.session));
        }
        WithCode::Wrong => WRONG.to_owned(),
        WithCode::Wait(seconds) => wait(seconds),
        // Set up in another window: from now on a code is asked for, after the password.
        WithCode::Nothing => return Ok(reply::see_other("/sign-in")),
    };
    drawn(&app, &half, next, vec![FieldError { field: "code".to_owned(), message }]).await
}

async fn drawn(app: &App, half: &Halfway, next: &str, errors: Vec<FieldError>) -> Result<HttpResponse, PageError> {
    let Some(offer) = offer_key(&app.deeds, half.person).await? else { return Ok(reply::see_other("/sign-in")) };
    let mut page = half.page("Set up one-time codes");
    page.errors = errors;
    let wrong = !page.errors.is_empty();
    let context = SetUp { page, form_token: half.form_token.clone(), offer: offer.into(), next: next.to_owned() };
    if wrong { reply::form_again(app, TEMPLATE, &context) } else { reply::page(app, TEMPLATE, &context) }
}
