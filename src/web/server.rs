//! The server: the routes, what surrounds every request, and how it stops without dropping one.
//!
//! Never adds an address of its own; those are in [`super::routes`].

use super::error::PageError;
use super::finish::finish;
use super::metrics::measure;
use super::origin::same_origin;
use super::{App, routes};
use actix_web::body::MessageBody;
use actix_web::dev::{Server, ServiceRequest, ServiceResponse};
use actix_web::middleware::from_fn;
use actix_web::{Error, HttpMessage as _, HttpServer, web};
use std::net::TcpListener;
use std::time::Duration;
use tracing::Span;
use tracing::field::Empty;
use tracing_actix_web::{RequestId, RootSpanBuilder, TracingLogger};

/// Seconds that a request in flight is given when the server stops.
const GRACE_S: u64 = 20;
/// How long a client may take to send the head of a request.
const HEAD_TIMEOUT: Duration = Duration::from_secs(10);

/// Starts serving on an open socket. The server runs while the returned future is polled, until it is told to stop
/// through its handle; signals are the caller's.
///
/// # Errors
/// When the socket cannot be listened on.
pub fn start(app: web::Data<App>, socket: TcpListener, workers: usize) -> std::io::Result<Server> {
    let server = HttpServer::new(move || {
        actix_web::App::new()
            .app_data(app.clone())
            .wrap(from_fn(same_origin))
            .wrap(from_fn(finish))
            .wrap(from_fn(measure))
            .wrap(TracingLogger::<Quiet>::new())
            .configure(routes::configure)
            .default_service(web::to(|| async { Err::<&'static str, _>(PageError::NotFound) }))
    });
    Ok(server
        .workers(workers)
        .disable_signals()
        .shutdown_timeout(GRACE_S)
        .client_request_timeout(HEAD_TIMEOUT)
        .listen(socket)?
        .run())
}

/// The span around a request. It holds the route's pattern, never the path: an invitation's path is a key.
struct Quiet;

impl RootSpanBuilder for Quiet {
    fn on_request_start(request: &ServiceRequest) -> Span {
        let id = request.extensions().get::<RequestId>().map(ToString::to_string);
        let method = request.method().to_string();
        tracing::info_span!("request", id, method, route = Empty, status = Empty)
    }

    fn on_request_end<B: MessageBody>(span: Span, outcome: &Result<ServiceResponse<B>, Error>) {
        if let Ok(response) = outcome {
            span.record("route", response.request().match_pattern().unwrap_or_else(|| "(none)".to_owned()));
            span.record("status", response.status().as_u16());
            span.in_scope(|| tracing::info!("answered"));
        }
    }
}
