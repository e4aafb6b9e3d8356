//! `/sign-in` and `/sign-out`.

use crate::actions::Token;
use crate::actions::sign_in::{Claim, SignIn, sign_in};
use crate::actions::sign_out::sign_out;
use crate::store::sessions::WaitsFor;
use crate::store::settings::{self, DEMO};
use crate::web::error::{PageError, Wording, wording};
use crate::web::form::Fields;
use crate::web::guard::{SIGNED_OUT, SignedIn};
use crate::web::halfway::{self, Halfway};
use crate::web::held::Held;
use crate::web::pages::one_time_codes::with_held;
use crate::web::view::{FieldError, Page};
use crate::web::{App, address, reply, session};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/sign_in/sign_in.html";

#[derive(Serialize)]
struct SignInPage<'a> {
    page: Page,
    email: &'a str,
    next: &'a str,
    /// Everybody here is invented.
    demo: bool,
    /// What the reader typed before the session ended.
    held: Option<Held>,
}

#[derive(Serialize)]
struct HeldPage {
    page: Page,
    wording: Wording,
    /// Nothing went wrong here.
    reference: Option<String>,
    held: Held,
}

/// The form.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, request: HttpRequest) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let notice = (query.typed("after") == "sign-out").then(|| "You are signed out.".to_owned());
    let page = Page { title: "Sign in".to_owned(), notice, ..Page::default() };
    let next = address::own_path(query.typed("next")).unwrap_or_default();
    reply::page(&app, TEMPLATE, &SignInPage { page, email: "", next, demo: is_demo(&app).await?, held: None })
}

/// Signs in and leads to where the reader wanted to go.
///
/// # Errors
/// The program cannot do it now.
pub async fn submit(app: web::Data<App>, request: HttpRequest, fields: Fields) -> Result<HttpResponse, PageError> {
    let next = address::own_path(fields.typed("next")).unwrap_or_default();
    let email = fields.typed("email");
    let before = session::brought(&request, &app.settings);
    let address = address::of_reader(&request, &app.settings);
    let claim = Claim {
        email,
        password: fields.typed("password"),
        address: &address,
        before,
        browser: session::browser(&request, &app.settings),
        device: address::device(&request),
    };
    let wrong = match sign_in(&app.deeds, claim).await? {
        SignIn::Begun(token, WaitsFor::Nothing) => {
            let mut reply = signed_in(&app, &token, Held::read(&fields), next).await?;
            set(&mut reply, known_browser(&app, &request, &token).await?)?;
            return Ok(reply);
        }
        SignIn::Begun(token, waits_for) => {
            let mut reply = match Held::read(&fields) {
                Some(held) if waits_for == WaitsFor::Code => with_held(&app, &half(&app, token.clone()).await?, held)?,
                _ => reply::see_other(&halfway::step(waits_for, next)),
            };
            set(&mut reply, session::begun(&token, &app.settings))?;
            set(&mut reply, known_browser(&app, &request, &token).await?)?;
            return Ok(reply);
        }
        SignIn::Refused => "The e-mail address or the password is not right. Check both and try again.".to_owned(),
        SignIn::Wait { seconds } => format!("That was wrong several times. Wait {seconds} s, then try again."),
    };
    let errors = vec![FieldError { field: "email".to_owned(), message: wrong }];
    let page = Page { title: "Sign in".to_owned(), errors, ..Page::default() };
    reply::form_again(
        &app,
        TEMPLATE,
        &SignInPage { page, email, next, demo: is_demo(&app).await?, held: Held::read(&fields) },
    )
}

/// Leads on whoever is signed in now: to what they typed before, or where they wanted to go.
pub(super) async fn signed_in(
    app: &App,
    token: &Token,
    held: Option<Held>,
    next: &str,
) -> Result<HttpResponse, PageError> {
    let mut reply = match held {
        Some(held) => held_page(app, token, held).await?,
        None => reply::see_other(if next.is_empty() { "/" } else { next }),
    };
    set(&mut reply, session::begun(token, &app.settings))?;
    Ok(reply)
}

/// Whoever is half-way in now.
async fn half(app: &App, token: Token) -> Result<Halfway, PageError> {
    let known = app.deeds.recognise(&token).await?.ok_or(PageError::SignedOut(None))?;
    Ok(Halfway::of(token, known))
}

/// What was typed before the session ended, with the new session's form token.
async fn held_page(app: &App, token: &Token, held: Held) -> Result<HttpResponse, PageError> {
    let known = app.deeds.recognise(token).await?.ok_or(PageError::SignedOut(None))?;
    let wording = wording(
        "You are signed in again",
        "What you typed before is not saved yet. It is kept on this page.",
        "Read it through, then send it again.",
    );
    let page = Page { title: wording.heading.to_owned(), ..Page::default() };
    let held = held.with_token(known.session.form_token);
    reply::page(app, "pages/sign_in/held.html", &HeldPage { page, wording, reference: None, held })
}

async fn is_demo(app: &App) -> Result<bool, PageError> {
    Ok(settings::find(&app.deeds.db, DEMO).await?.is_some())
}

/// Signs out.
///
/// # Errors
/// The program cannot do it now.
pub async fn leave(app: web::Data<App>, request: HttpRequest, _: SignedIn) -> Result<HttpResponse, PageError> {
    if let Some(token) = session::brought(&request, &app.settings) {
        sign_out(&app.deeds, &token).await?;
    }
    let mut reply = reply::see_other(SIGNED_OUT);
    set(&mut reply, session::ended(&app.settings))?;
    Ok(reply)
}

/// The cookie by which the browser is known from now on with which somebody has begun a session.
pub(super) async fn known_browser(
    app: &App,
    request: &HttpRequest,
    session: &Token,
) -> Result<actix_web::cookie::Cookie<'static>, PageError> {
    let brought = session::browser(request, &app.settings);
    let known = app.deeds.known_from(session, &address::of_reader(request, &app.settings), brought).await?;
    Ok(session::known(&known, &app.settings))
}

/// Puts a cookie on a reply.
pub(super) fn set(reply: &mut HttpResponse, cookie: actix_web::cookie::Cookie<'static>) -> Result<(), PageError> {
    reply.add_cookie(&cookie).map_err(|error| PageError::Fault(error.to_string()))
}
