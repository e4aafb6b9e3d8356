//! The pages: which addresses there are, who may reach them, what they show.
//!
//! A page never touches rows of the database: it calls an action or one of the store's reads, and hands a view model to
//! a template. A page never decides who may see it: the route's row in [`routes::TABLE`] says so and the guard acts on it.

mod address;
pub mod dates;
pub mod error;
mod finish;
pub mod form;
pub mod guard;
pub mod halfway;
mod held;
pub mod lesson;
pub mod metrics;
mod origin;
pub mod pages;
pub mod plot;
mod problem;
pub mod program;
pub mod question_card;
pub mod reply;
pub mod routes;
pub mod server;
pub mod session;
pub mod square_code;
pub mod view;

use crate::actions::Deeds;
use crate::config::Settings;
use metrics::Metrics;
use std::sync::Arc;
use tokio_util::sync::CancellationToken;
use tokio_util::task::TaskTracker;
use view::Views;

/// What every handler can reach: `app: web::Data<App>`.
pub struct App {
    /// What people do, with the database and the clock.
    pub deeds: Deeds,
    /// The templates.
    pub views: Views,
    /// The settings.
    pub settings: Settings,
    /// Cancelled when the program must stop: by a signal, or because a commit's fate is not known.
    pub stop: CancellationToken,
    /// The requests that are not answered yet.
    pub under_way: TaskTracker,
    /// What is counted.
    pub metrics: Arc<Metrics>,
}
