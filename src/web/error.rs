//! When a page cannot be shown: one match makes the status, the reader gets fixed wording, the log gets the cause.
//!
//! Never tells a reader what the program tripped over, and never tells "you may not" from "there is no such page".

use super::App;
use super::reply::no_store;
use super::view::{Page, ViewError};
use crate::actions::ActionError;
use crate::store::StoreError;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::StatusCode;
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage as _, HttpResponse, ResponseError, web};
use serde::Serialize;
use std::fmt;
use tracing_actix_web::RequestId;

/// Why a page is not shown.
#[derive(Debug)]
pub enum PageError {
    /// No such page, or not for this person.
    NotFound,
    /// Something was sent by somebody who is not signed in (any more).
    SignedOut,
    /// A form that does not come from our own page.
    Foreign,
    /// A compressed request.
    Encoded,
    /// A request larger than the page takes.
    TooLarge,
    /// A request that no page of ours sends.
    Malformed(&'static str),
    /// The database does not answer, or too many people sign in at once.
    Busy(String),
    /// The database did not say whether it kept what was sent.
    Unknown(String),
    /// A fault of the program.
    Fault(String),
}

/// What the reader is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
struct Wording {
    heading: &'static str,
    what: &'static str,
    todo: &'static str,
}

impl PageError {
    /// The only place where a fault becomes a status and a text.
    const fn told(&self) -> (StatusCode, Wording) {
        match self {
            Self::NotFound => (
                StatusCode::NOT_FOUND,
                wording(
                    "No such page",
                    "There is nothing at this address for you.",
                    "Check the address, or go to the first page.",
                ),
            ),
            Self::SignedOut => (
                StatusCode::UNAUTHORIZED,
                wording(
                    "You are signed out",
                    "Nothing was saved. What you typed is still in the page before this one.",
                    "Open the sign-in page in a second tab, sign in, come back to this tab, go back one page and send it again.",
                ),
            ),
            Self::Foreign => (
                StatusCode::FORBIDDEN,
                wording(
                    "Not accepted",
                    "What was sent did not come from a page that you have open here. Nothing was saved.",
                    "Go back, load the page again, fill it in and send it.",
                ),
            ),
            Self::Encoded => (
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                wording(
                    "Not accepted",
                    "What was sent is compressed. Nothing was saved.",
                    "Send it without a Content-Encoding.",
                ),
            ),
            Self::TooLarge => (
                StatusCode::PAYLOAD_TOO_LARGE,
                wording(
                    "Too much at once",
                    "What was sent is larger than this page takes. Nothing was saved.",
                    "Go back and send less, or send it in parts.",
                ),
            ),
            Self::Malformed(_) => (
                StatusCode::BAD_REQUEST,
                wording(
                    "Not understood",
                    "What was sent has a form that this page does not know. Nothing was saved.",
                    "Go back, load the page again and send it once more.",
                ),
            ),
            Self::Busy(_) => (
                StatusCode::SERVICE_UNAVAILABLE,
                wording(
                    "Not available right now",
                    "The program is up, but it cannot reach what it needs. Nothing was saved.",
                    "Wait a minute, go back and send it again.",
                ),
            ),
            Self::Unknown(_) => (
                StatusCode::SERVICE_UNAVAILABLE,
                wording(
                    "Not known whether it was saved",
                    "The disk or the database failed just as it was saving.",
                    "Tell your administrator. When the program is back, look first whether it is there, then do it again if not.",
                ),
            ),
            Self::Fault(_) => (
                StatusCode::INTERNAL_SERVER_ERROR,
                wording(
                    "Something went wrong here",
                    "The fault is the program's. Nothing was saved.",
                    "Try once more. If it stays, give your administrator the reference below.",
                ),
            ),
        }
    }

    /// Whether an administrator has to look for the cause in the log.
    const fn is_ours(&self) -> bool {
        matches!(self, Self::Busy(_) | Self::Unknown(_) | Self::Fault(_))
    }
}

const fn wording(heading: &'static str, what: &'static str, todo: &'static str) -> Wording {
    Wording { heading, what, todo }
}

impl fmt::Display for PageError {
    /// For the log: with the cause.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.told().1.heading)?;
        match self {
            Self::Malformed(cause) => write!(f, ": {cause}"),
            Self::Busy(cause) | Self::Unknown(cause) | Self::Fault(cause) => write!(f, ": {cause}"),
            _ => Ok(()),
        }
    }
}

impl ResponseError for PageError {
    fn status_code(&self) -> StatusCode {
        self.told().0
    }

    /// An empty body: [`finish`] draws the page, because only there the templates and the request's id are at hand.
    fn error_response(&self) -> HttpResponse {
        HttpResponse::new(self.status_code())
    }
}

impl From<StoreError> for PageError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::NotFound => Self::NotFound,
            StoreError::Unavailable(_) => Self::Busy(error.to_string()),
            StoreError::CommitUnknown(_) => Self::Unknown(error.to_string()),
            StoreError::Conflict(_) | StoreError::Corrupt(_) => Self::Fault(error.to_string()),
        }
    }
}

impl From<ActionError> for PageError {
    fn from(error: ActionError) -> Self {
        match error {
            ActionError::Store(error) => error.into(),
            ActionError::Busy(what) => Self::Busy(what.to_owned()),
            ActionError::View(_) | ActionError::Hashing(_) | ActionError::Randomness(_) => {
                Self::Fault(error.to_string())
            }
        }
    }
}

impl From<ViewError> for PageError {
    fn from(error: ViewError) -> Self {
        Self::Fault(error.to_string())
    }
}

#[derive(Serialize)]
struct ErrorPage {
    page: Page,
    wording: Wording,
    /// What the reader can give to the administrator.
    reference: Option<String>,
}

/// Draws the page of whatever went wrong inside, and puts the headers on that every reply has.
///
/// # Errors
/// Only what a service outside our routes raises.
pub async fn finish(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let app = request.app_data::<web::Data<App>>().cloned();
    let id = request.extensions().get::<RequestId>().map(ToString::to_string).unwrap_or_default();
    let response = next.call(request).await?.map_into_boxed_body();
    let mut response = match (response.response().error(), &app) {
        (Some(error), Some(app)) => {
            let drawn = match error.as_error::<PageError>() {
                Some(error) => drawn(app, error, &id),
                None => drawn(app, &translated(error), &id),
            };
            response.into_response(drawn)
        }
        _ => response,
    };
    for (name, value) in HEADERS {
        response.headers_mut().insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    if let Ok(id) = HeaderValue::from_str(&id) {
        response.headers_mut().insert(HeaderName::from_static("x-request-id"), id);
    }
    no_store(response.headers_mut());
    Ok(response)
}

/// What every reply carries. Scripts, styles, fonts and pictures come from this server only, and no page may be framed.
const HEADERS: [(&str, &str); 4] = [
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data:; \
         connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
];

/// An error of the web library, such as a path that does not have the form its route wants.
fn translated(error: &Error) -> PageError {
    match error.as_response_error().status_code() {
        StatusCode::NOT_FOUND => PageError::NotFound,
        StatusCode::PAYLOAD_TOO_LARGE => PageError::TooLarge,
        status if status.is_client_error() => PageError::Malformed("refused by the web library"),
        _ => PageError::Fault(error.to_string()),
    }
}

fn drawn(app: &App, error: &PageError, id: &str) -> HttpResponse {
    if error.is_ours() {
        tracing::error!(request_id = id, cause = %error, "a page could not be shown");
    }
    if matches!(error, PageError::Unknown(_)) {
        // What the database holds is not known: stop, so that it is opened and recovered anew.
        app.stop.cancel();
    }
    let (status, wording) = error.told();
    let page = Page { title: wording.heading.to_owned(), ..Page::default() };
    let reference = error.is_ours().then(|| id.to_owned());
    let mut reply = HttpResponse::build(status);
    if status == StatusCode::UNAUTHORIZED {
        // RFC 9110 section 11.6.1: a 401 names a scheme. Ours is the sign-in form.
        reply.insert_header(("www-authenticate", "Form realm=\"Sootmark\""));
    }
    match app.views.render("pages/error.html", &ErrorPage { page, wording, reference }) {
        Ok(body) => reply.content_type("text/html; charset=utf-8").body(body),
        Err(fault) => {
            tracing::error!(request_id = id, cause = %fault, "the error page could not be drawn");
            reply.content_type("text/plain; charset=utf-8").body(format!("{}. {}", wording.heading, wording.todo))
        }
    }
}
