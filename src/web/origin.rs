//! What is refused before any address is looked at: compressed bodies, and forms that another site sends.
//!
//! The first of two bars against forged forms; the second is the session's form token, in [`super::guard`].

use super::App;
use super::error::PageError;
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::Uri;
use actix_web::http::header::{CONTENT_ENCODING, HOST, ORIGIN};
use actix_web::middleware::Next;
use actix_web::{Error, web};

/// Where mail programs end letters (RFC 8058): they say nothing about where they come from, and the secret in the address is
/// all that counts there.
const ONE_CLICK: &str = "/letters/stop/";

/// Refuses what no page of ours sends, whatever the address: compressed bodies, and forms from other sites.
///
/// # Errors
/// Only what the inner service raises.
pub(super) async fn same_origin(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let refused = if request.headers().contains_key(CONTENT_ENCODING) {
        // A small compressed body can unfold into a gigabyte before a handler sees it.
        Some(PageError::Encoded)
    } else if request.method().is_safe() || request.path().starts_with(ONE_CLICK) || comes_from_here(&request) {
        None
    } else {
        Some(PageError::Foreign(None))
    };
    match refused {
        Some(error) => Ok(request.error_response(error)),
        None => Ok(next.call(request).await?.map_into_boxed_body()),
    }
}

/// Browsers say where a form comes from in `Sec-Fetch-Site` or, over plain http, in `Origin`. Both are checked when both
/// are there; a request with neither is not from a browser's form.
fn comes_from_here(request: &ServiceRequest) -> bool {
    let text = |name| request.headers().get(name).map(|value| value.to_str().unwrap_or_default());
    let site = request.headers().get("sec-fetch-site").map(|value| value.as_bytes() == b"same-origin");
    let origin = text(ORIGIN.as_str()).map(|origin| {
        let public = request.app_data::<web::Data<App>>().map(|app| app.settings.public_origin());
        let host = origin.parse::<Uri>().ok().and_then(|uri| uri.authority().map(ToString::to_string));
        public.as_deref() == Some(origin) || (host.is_some() && host.as_deref() == text(HOST.as_str()))
    });
    match (site, origin) {
        (None, None) => false,
        (site, origin) => site.unwrap_or(true) && origin.unwrap_or(true),
    }
}
