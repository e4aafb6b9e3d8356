//! `/account/one-time-codes`: whether one has them, setting them up, new recovery codes, taking them away.

use super::{Shown, WRONG, recovery_page, wait};
use crate::actions::Token;
use crate::actions::set_up_codes::{
    WithCode, WithPassword, confirm_with_password, new_recovery, offer_key, remove_own,
};
use crate::domain::people::needs_one_time_codes;
use crate::store::one_time_codes::recovery_left;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, address, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/one_time_codes/own.html";
const PLACE: &str = "/account";

#[derive(Serialize)]
struct Own {
    page: Page,
    /// The key to take in; none for who has codes already.
    offer: Option<Shown>,
    left: u64,
    /// What the form for new recovery codes carries, so that two clicks make one list.
    click: String,
    /// Whether the role cannot do without them.
    needed: bool,
}

/// The page.
///
/// # Errors
/// The program cannot do it now.
pub async fn show(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let removed = Fields::from_text(request.query_string())?.typed("done") == "removed";
    let context = own(&app, &reader, removed.then_some("You sign in with your password alone from now on.")).await?;
    reply::page(&app, TEMPLATE, &context)
}

async fn own(app: &App, reader: &SignedIn, notice: Option<&str>) -> Result<Own, PageError> {
    let mut page = reader.page("One-time codes", PLACE);
    page.notice = notice.map(str::to_owned);
    Ok(Own {
        page,
        offer: offer_key(&app.deeds, reader.person).await?.map(Shown::from),
        left: recovery_left(&app.deeds.db, reader.person).await?,
        click: Token::fresh()?.as_str().to_owned(),
        needed: app.deeds.codes_required && needs_one_time_codes(reader.role),
    })
}

async fn again(app: &App, reader: &SignedIn, field: &str, message: String) -> Result<HttpResponse, PageError> {
    let mut context = own(app, reader, None).await?;
    context.page.errors = vec![FieldError { field: field.to_owned(), message }];
    reply::form_again(app, TEMPLATE, &context)
}

/// Takes the password and the first code of the offered key.
///
/// # Errors
/// The program cannot do it now.
pub async fn confirm(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let (password, code) = (fields.typed("password"), fields.typed("code"));
    let device = address::device(&request);
    let given = match confirm_with_password(&app.deeds, reader.person, password, code, device).await? {
        WithPassword::Right(given) => given,
        WithPassword::Wrong => return again(&app, &reader, "password", "This is not your password.".to_owned()).await,
        WithPassword::Wait(seconds) => return again(&app, &reader, "password", wait(seconds)).await,
    };
    match given {
        WithCode::Done(done) => {
            // Drawn without places: every link of this page belongs to a session that has just ended.
            let page = Page { title: "Your recovery codes".to_owned(), ..Page::default() };
            recovery_page(&app, page, done.recovery, PLACE, Some(&done.session))
        }
        WithCode::Wrong => again(&app, &reader, "code", WRONG.to_owned()).await,
        WithCode::Wait(seconds) => again(&app, &reader, "code", wait(seconds)).await,
        WithCode::Nothing => Ok(reply::see_other("/account/one-time-codes")),
    }
}

/// Makes new recovery codes.
///
/// # Errors
/// The program cannot do it now.
pub async fn recovery(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    match new_recovery(&app.deeds, reader.person, fields.typed("recovery_code"), &fields.click()?).await? {
        WithCode::Done(codes) => {
            let page = reader.page("Your recovery codes", PLACE);
            recovery_page(&app, page, codes, PLACE, None)
        }
        WithCode::Wrong => again(&app, &reader, "recovery_code", WRONG.to_owned()).await,
        WithCode::Wait(seconds) => again(&app, &reader, "recovery_code", wait(seconds)).await,
        WithCode::Nothing => Ok(reply::see_other("/account/one-time-codes")),
    }
}

/// Takes the codes away.
///
/// # Errors
/// The program cannot do it now.
pub async fn remove(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    match remove_own(&app.deeds, reader.person, fields.typed("remove_code")).await? {
        WithCode::Done(()) => Ok(reply::see_other("/account/one-time-codes?done=removed")),
        WithCode::Wrong => again(&app, &reader, "remove_code", WRONG.to_owned()).await,
        WithCode::Wait(seconds) => again(&app, &reader, "remove_code", wait(seconds)).await,
        WithCode::Nothing => Ok(reply::see_other("/account/one-time-codes")),
    }
}
