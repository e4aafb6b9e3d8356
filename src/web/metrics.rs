//! What is counted while the program serves, for a program that watches over it (OpenMetrics text).
//!
//! No label ever holds what somebody sent: a route is named by its pattern, a method and a status by one of a few words. The
//! counts are this process's and begin with it; what is asked of the database is the same on every server.

use super::App;
use crate::actions::keep_backups::{backups_in, last_try};
use crate::domain::aftertreatment::MODEL_VERSION;
use crate::store::read::vitals::vitals;
use crate::store::{failures, newest_step};
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::{ConnectionType, Method};
use actix_web::middleware::Next;
use actix_web::{Error, web};
use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::{encode_eof, encode_registry};
use prometheus_client::metrics::counter::{ConstCounter, Counter};
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::ConstGauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::Registry;
use std::time::Instant;

/// The upper ends of the classes of durations, in seconds; chosen by us around a page of some milliseconds.
const DURATIONS_S: [f64; 9] = [0.002, 0.005, 0.01, 0.025, 0.05, 0.1, 0.5, 2.0, 10.0];

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Answered {
    route: String,
    method: &'static str,
    status: &'static str,
}

#[derive(Clone, Debug, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Timed {
    route: String,
    method: &'static str,
}

/// What this process has counted since it began.
pub struct Metrics {
    registry: Registry,
    requests: Family<Answered, Counter>,
    durations: Family<Timed, Histogram, fn() -> Histogram>,
    answers_saved: Counter,
}

impl Default for Metrics {
    fn default() -> Self {
        let requests = Family::<Answered, Counter>::default();
        let durations = Family::new_with_constructor((|| Histogram::new(DURATIONS_S)) as fn() -> Histogram);
        let answers_saved = Counter::default();
        let mut registry = Registry::with_prefix("sootmark");
        registry.register("requests", "Requests that were answered", requests.clone());
        registry.register("request_duration_seconds", "How long it took to answer", durations.clone());
        registry.register("answers_saved", "Answers of examinations that were called saved", answers_saved.clone());
        Self { registry, requests, durations, answers_saved }
    }
}

impl Metrics {
    /// An answer of an examination was called saved.
    pub fn answer_saved(&self) {
        self.answers_saved.inc();
    }

    fn answered(&self, route: String, method: &'static str, status: &'static str, took_s: f64) {
        self.durations.get_or_create(&Timed { route: route.clone(), method }).observe(took_s);
        self.requests.get_or_create(&Answered { route, method, status }).inc();
    }
}

/// Counts a request when it was answered, and is there to be waited for until then.
///
/// # Errors
/// Only what is inside raises.
pub(super) async fn measure(
    request: ServiceRequest,
    next: Next<impl MessageBody>,
) -> Result<ServiceResponse<impl MessageBody>, Error> {
    let began = Instant::now();
    let app = request.app_data::<web::Data<App>>().cloned();
    let _under_way = app.as_ref().map(|app| app.under_way.token());
    let mut response = next.call(request).await?;
    if let Some(app) = &app {
        if app.stop.is_cancelled() {
            // Nobody begins another request on this connection.
            response.response_mut().head_mut().set_connection_type(ConnectionType::Close);
        }
        let route = response.request().match_pattern().unwrap_or_else(|| "(none)".to_owned());
        let method = match *response.request().method() {
            Method::GET => "GET",
            Method::POST => "POST",
            _ => "other",
        };
        let status = ["1xx", "2xx", "3xx", "4xx", "5xx"];
        let status = status[usize::from(response.status().as_u16() / 100).clamp(1, 5) - 1];
        app.metrics.answered(route, method, status, began.elapsed().as_secs_f64());
    }
    Ok(response)
}

/// Everything, as text. What the database cannot be asked is left out, and said by `sootmark_database_up 0`.
///
/// # Errors
/// When the text cannot be written.
pub(super) async fn written(app: &App) -> Result<String, std::fmt::Error> {
    let mut now = Registry::with_prefix("sootmark");
    of_program(&mut now, app);
    of_database(&mut now, app).await;
    let mut text = String::new();
    encode_registry(&mut text, &app.metrics.registry)?;
    encode_registry(&mut text, &now)?;
    encode_eof(&mut text)?;
    Ok(text)
}

fn of_program(now: &mut Registry, app: &App) {
    let build = [
        ("version", env!("CARGO_PKG_VERSION").to_owned()),
        ("model", MODEL_VERSION.to_string()),
        ("schema", newest_step()),
    ];
    now.register("build", "Which program this is", Info::new(build.to_vec()));
    let (at_work, waiting) = app.deeds.hashing.queue();
    gauge(now, "passwords_at_work", "Passwords that are being hashed", at_work);
    gauge(now, "passwords_waiting", "Passwords that wait to be hashed", waiting);
    counter(now, "passwords_worked", "Times the work of a password was done", app.deeds.hashing.worked());
    let failed = failures();
    counter(now, "database_unavailable", "Times the database did not do what it was asked", failed.unavailable);
    counter(now, "database_disagreed", "Times the database and the program did not agree", failed.disagreed);
    counter(
        now,
        "database_commit_unknown",
        "Times it stayed unknown whether something was saved",
        failed.commit_unknown,
    );
}

async fn of_database(now: &mut Registry, app: &App) {
    let vitals = vitals(&app.deeds.db).await;
    gauge(now, "database_up", "Whether the database answers", u64::from(vitals.is_ok()));
    if let Ok(vitals) = vitals {
        gauge(now, "sittings_open", "Examinations that are being sat", vitals.open_sittings);
        gauge(now, "letters_waiting", "Letters that wait to be sent", vitals.letters_waiting);
        gauge(now, "letters_failing", "Letters that wait and were not taken before", vitals.letters_failing);
        gauge(now, "letters_left", "Letters that were given up", vitals.letters_left);
    }
    let Some(folder) = &app.settings.backup_folder else { return };
    let listed = backups_in(folder).unwrap_or_default();
    gauge(now, "backups_kept", "Scheduled backups in the folder", listed.len() as u64);
    // One from the future was made by a wrong clock, and says nothing about how old the newest is.
    let at = app.deeds.clock.now();
    if let Some((newest, _)) = listed.iter().rfind(|(made, _)| *made <= at) {
        let age_s = (at.0 - newest.0) / 1_000_000;
        gauge(now, "backup_age_seconds", "How old the newest scheduled backup is", age_s.unsigned_abs());
    }
    if let Ok(Some(last)) = last_try(&app.deeds.db).await {
        let failed = u64::from(last.failed.is_some());
        gauge(now, "backup_failed", "Whether the last scheduled backup failed", failed);
    }
}

fn gauge(now: &mut Registry, name: &str, help: &str, value: u64) {
    now.register(name, help, ConstGauge::new(i64::try_from(value).unwrap_or(i64::MAX)));
}

fn counter(now: &mut Registry, name: &str, help: &str, value: u64) {
    now.register(name, help, ConstCounter::new(value));
}
