//! What went wrong, for a program: problem details in JSON.
//!
//! Source: RFC 9457. `type` is `about:blank`, which it asks for when the status says what there is to say; `errors` is our
//! own member: what is wrong with which part of the question.

use super::program::brings_key;
use super::view::FieldError;
use actix_web::http::StatusCode;
use actix_web::http::header::ACCEPT;
use actix_web::{HttpRequest, HttpResponse, HttpResponseBuilder};
use serde::Serialize;

#[derive(Serialize)]
struct Problem<'a> {
    r#type: &'static str,
    title: &'a str,
    status: u16,
    detail: &'a str,
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    errors: &'a [FieldError],
}

/// Whether a reader wants problems in JSON rather than as a page: a program that brings a key, or that asks for data.
pub(super) fn wanted(request: &HttpRequest) -> bool {
    let accepts = request.headers().get(ACCEPT).and_then(|accept| accept.to_str().ok()).unwrap_or_default();
    let format = |word: &str| request.query_string().split('&').any(|pair| pair == format!("format={word}"));
    request.method() == actix_web::http::Method::GET
        && (brings_key(request) || accepts.contains("application/json") || format("json") || format("csv"))
}

/// The reply.
pub(super) fn reply(
    mut reply: HttpResponseBuilder,
    status: StatusCode,
    title: &str,
    detail: &str,
    errors: &[FieldError],
) -> HttpResponse {
    let problem = Problem { r#type: "about:blank", title, status: status.as_u16(), detail, errors };
    let body = serde_json::to_string(&problem).unwrap_or_default();
    reply.content_type("application/problem+json").body(body)
}
