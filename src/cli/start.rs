//! What every command does first: settings, log, database, the deeds on top of it.

use super::Failure;
use crate::actions::{BankInUse, Deeds, Hashing, Throttle};
use crate::clock::Clock;
use crate::config::Settings;
use crate::store::{connect, migrate};
use crate::web::view::Views;
use std::io::IsTerminal as _;
use std::path::Path;
use std::sync::Arc;
use tokio::sync::Notify;
use tracing_subscriber::EnvFilter;

/// Reads the settings from the file, if one is named, and the environment.
pub(super) fn settings(file: Option<&Path>) -> Result<Settings, Failure> {
    Ok(Settings::read(file, |name| std::env::var(name).ok())?)
}

/// Starts the log on stderr: for people on a terminal, one JSON object a line otherwise. `SOOTMARK_LOG` sets what is
/// logged, as in `info` or `sootmark=debug`.
pub(super) fn log() {
    let filter = EnvFilter::try_from_env("SOOTMARK_LOG").unwrap_or_else(|_| EnvFilter::new("info"));
    let log = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    // A log that runs already, as in a test, stays.
    let _ = if std::io::stderr().is_terminal() { log.try_init() } else { log.json().try_init() };
}

/// Opens the database, brings its tables up to date, and gives the deeds.
pub(super) async fn deeds(settings: &Settings) -> Result<Deeds, Failure> {
    if settings.database_url.is_none() {
        let folder = &settings.data_folder;
        std::fs::create_dir_all(folder).map_err(|error| format!("data_folder {}: {error}", folder.display()))?;
    }
    let db = connect(settings.database().reveal()).await?;
    migrate(&db).await?;
    Ok(Deeds {
        db,
        clock: Clock::system(),
        views: Views::load()?,
        hashing: Hashing::new()?,
        throttle: Throttle::default(),
        origin: settings.public_origin(),
        bank: BankInUse::default(),
        letters: Arc::new(Notify::new()),
    })
}
