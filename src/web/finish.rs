//! The last thing before a reply leaves: the page of whatever went wrong, and the headers that every reply has.
//!
//! The only place that logs why a page was not shown. Never logs what a form held.

use super::App;
use super::error::{PageError, Wording};
use super::guard::Committed;
use super::held::Held;
use super::problem;
use super::reply::no_store;
use super::view::Page;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::StatusCode;
use actix_web::http::header::{HeaderName, HeaderValue, RETRY_AFTER, STRICT_TRANSPORT_SECURITY};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage as _, HttpResponse, web};
use serde::Serialize;
use tracing_actix_web::RequestId;

#[derive(Serialize)]
struct ErrorPage {
    page: Page,
    wording: Wording,
    /// What the reader can give to the administrator.
    reference: Option<String>,
}

#[derive(Serialize)]
struct HeldPage<'a> {
    page: Page,
    wording: Wording,
    reference: Option<String>,
    held: &'a Held,
}

/// Draws the page of whatever went wrong inside, and puts the headers on that every reply has.
///
/// # Errors
/// Only what a service outside our routes raises.
pub(super) async fn finish(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let app = request.app_data::<web::Data<App>>().cloned();
    let id = request.extensions().get::<RequestId>().map(ToString::to_string).unwrap_or_default();
    let for_program = problem::wanted(request.request());
    let response = next.call(request).await?.map_into_boxed_body();
    let committed = response.request().extensions().get::<Committed>().is_some();
    let held = response.request().extensions_mut().remove::<Held>();
    let mut response = match (response.response().error(), &app) {
        (Some(error), Some(app)) => {
            let drawn = match error.as_error::<PageError>() {
                Some(error) => drawn(app, error, (committed, held), &id, for_program),
                None => drawn(app, &translated(error), (committed, None), &id, for_program),
            };
            response.into_response(drawn)
        }
        _ => response,
    };
    for (name, value) in HEADERS {
        response.headers_mut().insert(HeaderName::from_static(name), HeaderValue::from_static(value));
    }
    if app.is_some_and(|app| app.settings.public_origin().starts_with("https://")) {
        response.headers_mut().insert(STRICT_TRANSPORT_SECURITY, HeaderValue::from_static(ONLY_HTTPS));
    }
    if let Ok(id) = HeaderValue::from_str(&id) {
        response.headers_mut().insert(HeaderName::from_static("x-request-id"), id);
    }
    no_store(response.headers_mut());
    Ok(response)
}

/// What every reply carries. Scripts, styles, fonts and pictures come from this server only, and no page may be framed.
const HEADERS: [(&str, &str); 5] = [
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data:; \
         connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
];

/// Where people come by https: a year of nothing else. Source: OWASP ASVS 5.0.0, 3.4.1.
const ONLY_HTTPS: &str = "max-age=31536000; includeSubDomains";
/// Seconds after which somebody may come back who was turned away because too much was under way.
const COME_BACK_AFTER_S: &str = "30";

/// An error of the web library, such as a path that does not have the form its route wants.
fn translated(error: &Error) -> PageError {
    match error.as_response_error().status_code() {
        StatusCode::NOT_FOUND => PageError::NotFound,
        StatusCode::PAYLOAD_TOO_LARGE => PageError::TooLarge,
        status if status.is_client_error() => PageError::Malformed("refused by the web library"),
        _ => PageError::Fault(error.to_string()),
    }
}

/// The page of an error, by whether something was saved, and with what was typed where that can be given back.
fn drawn(
    app: &App,
    error: &PageError,
    (committed, kept): (bool, Option<Held>),
    id: &str,
    for_program: bool,
) -> HttpResponse {
    if error.is_ours() {
        tracing::error!(request_id = id, cause = %error, "a page could not be shown");
    }
    if matches!(error, PageError::Unknown(_)) {
        // What the database holds is not known: stop, so that it is opened and recovered anew.
        app.stop.cancel();
    }
    let (status, wording) = match (committed, &kept) {
        (true, _) => error.told_after_saving(),
        (false, Some(_)) => error.told_and_kept(),
        (false, None) => error.told(),
    };
    let page = Page { title: wording.heading.to_owned(), ..Page::default() };
    let reference = error.is_ours().then(|| id.to_owned());
    let mut reply = HttpResponse::build(status);
    if matches!(error, PageError::Busy(_)) {
        reply.insert_header((RETRY_AFTER, COME_BACK_AFTER_S));
    }
    if status == StatusCode::UNAUTHORIZED {
        // RFC 9110 section 11.6.1: a 401 names a scheme. Ours is the sign-in form; a program's that of RFC 6750, section 3.
        let scheme = match error {
            PageError::Key { brought: true } => "Bearer realm=\"Sootmark\", error=\"invalid_token\"",
            PageError::Key { brought: false } => "Bearer realm=\"Sootmark\"",
            _ => "Form realm=\"Sootmark\"",
        };
        reply.insert_header(("www-authenticate", scheme));
    }
    if for_program {
        return problem::reply(reply, status, wording.heading, &format!("{} {}", wording.what, wording.todo), &[]);
    }
    let body = match (error, kept) {
        (PageError::SignedOut(Some(held)) | PageError::Foreign(Some(held)), _) => {
            app.views.render("pages/sign_in/held.html", &HeldPage { page, wording, reference, held })
        }
        (PageError::Busy(_) | PageError::Unknown(_), Some(held)) => {
            app.views.render("pages/sign_in/held.html", &HeldPage { page, wording, reference, held: &held })
        }
        _ => app.views.render("pages/error.html", &ErrorPage { page, wording, reference }),
    };
    match body {
        Ok(body) => reply.content_type("text/html; charset=utf-8").body(body),
        Err(fault) => {
            tracing::error!(request_id = id, cause = %fault, "the error page could not be drawn");
            reply.content_type("text/plain; charset=utf-8").body(format!("{}. {}", wording.heading, wording.todo))
        }
    }
}
