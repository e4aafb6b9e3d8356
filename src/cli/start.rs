//! What every command does first: settings, log, database, the deeds on top of it.

use super::Failure;
use crate::actions::load_bank::load_bank;
use crate::actions::{BankInUse, Deeds, Hashing, Seeds, Throttle};
use crate::bank_files;
use crate::clock::Clock;
use crate::config::{LogFormat, LogLevel, Settings};
use crate::store::backup::file_of;
use crate::store::{ConnectError, Db, connect, connect_to_read, connect_to_read_older, migrate};
use crate::web::view::Views;
use std::fs::{DirBuilder, OpenOptions};
use std::io::IsTerminal as _;
use std::os::unix::fs::{DirBuilderExt as _, OpenOptionsExt as _};
use std::path::Path;
use std::sync::Arc;
use tokio::sync::Notify;
use tracing::Level;

/// Reads the settings from the file, if one is named, and the environment.
pub(super) fn settings(file: Option<&Path>) -> Result<Settings, Failure> {
    Ok(Settings::read(file, |name| std::env::var(name).ok())?)
}

/// Starts the log on stderr, as the settings `log_format` and `log_level` say.
pub(super) fn log(format: LogFormat, level: LogLevel) {
    let level = match level {
        LogLevel::Error => Level::ERROR,
        LogLevel::Warn => Level::WARN,
        LogLevel::Info => Level::INFO,
        LogLevel::Debug => Level::DEBUG,
        LogLevel::Trace => Level::TRACE,
    };
    // A log that cannot be written (a full disk) is lost: to complain of it on the same stderr would end what was being done.
    let log = tracing_subscriber::fmt().with_max_level(level).with_writer(std::io::stderr).log_internal_errors(false);
    let on_terminal = std::io::stderr().is_terminal();
    // Colours are for eyes: in a file they are signs that nobody looks for.
    let log = if on_terminal { log } else { log.with_ansi(false) };
    let as_json = match format {
        LogFormat::Auto => !on_terminal,
        LogFormat::Json => true,
        LogFormat::Text => false,
    };
    // A log that runs already, as in a test, stays.
    let _ = if as_json { log.json().try_init() } else { log.try_init() };
}

/// Opens the database, which is made where there is none, brings its tables up to date, and gives the deeds.
pub(super) async fn deeds(settings: &Settings) -> Result<Deeds, Failure> {
    make_closed_place(settings)?;
    let db = connect(settings.database().reveal()).await?;
    migrate(&db).await?;
    Ok(Deeds {
        db,
        clock: Clock::system(),
        views: Views::load()?,
        hashing: Hashing::new()?,
        throttle: Throttle::default(),
        origin: settings.public_origin(),
        codes_required: settings.one_time_codes,
        seeds: Seeds::system(),
        bank: BankInUse::default(),
        letters: Arc::new(Notify::new()),
    })
}

/// Makes the place of an SQLite database, whichever setting names it, so that only its owner reads it: the key that signs
/// certificates is in it, and SQLite's files beside it get the same mode. What is there already stays as it is.
fn make_closed_place(settings: &Settings) -> Result<(), Failure> {
    if settings.database_url.is_none() {
        make_data_folder(settings)?;
    }
    let Some(file) = file_of(settings.database().reveal()) else { return Ok(()) };
    let made = OpenOptions::new().create(true).append(true).mode(0o600).open(&file);
    made.map_err(|error| {
        format!(
            "the database {}: {error}. Let the program's user write there, or set data_folder or database_url to another \
             place",
            file.display()
        )
    })?;
    Ok(())
}

/// Makes the data folder where there is none, open to its owner only.
pub(super) fn make_data_folder(settings: &Settings) -> Result<(), Failure> {
    let folder = &settings.data_folder;
    let made = DirBuilder::new().recursive(true).mode(0o700).create(folder);
    Ok(made.map_err(|error| format!("data_folder {}: {error}", folder.display()))?)
}

/// The deeds on a database that is there already. For what only makes sense where a workshop has its data: an empty database
/// made on the way would be taken for it.
pub(super) async fn deeds_on_what_is_there(settings: &Settings) -> Result<Deeds, Failure> {
    is_there(settings).await?;
    deeds(settings).await
}

/// Refuses where no database with tables is, and makes none.
pub(super) async fn is_there(settings: &Settings) -> Result<(), Failure> {
    let opened = connect_to_read_older(settings.database().reveal()).await;
    let (db, _) = opened.map_err(|error| not_opened(settings, error))?;
    Ok(db.close().await?)
}

/// Opens the database of the settings to look and never to change; the program may serve it meanwhile.
pub(super) async fn reader(settings: &Settings) -> Result<Db, Failure> {
    connect_to_read(settings.database().reveal()).await.map_err(|error| not_opened(settings, error))
}

/// Why it was not opened: of a file that is not there, where it was looked for and what to set.
fn not_opened(settings: &Settings, error: ConnectError) -> Failure {
    match file_of(settings.database().reveal()) {
        Some(file) if !file.exists() => {
            let file = std::path::absolute(&file).unwrap_or(file);
            Failure(format!(
                "the database cannot be opened: there is no {}; set data_folder or database_url to where it is, or name \
                 the file that says so with --settings. `sootmark serve` makes a new one",
                file.display()
            ))
        }
        _ => error.into(),
    }
}

/// How often a template that is new or changed is tried on each machine before it is taken; chosen by us: quick enough
/// for a start. `sootmark bank check` and publishing try more often.
const SEEDS: u64 = 20;

/// Takes the bank's documents into the database and into use: those of the folder in the settings, else the built-in
/// ones. What is broken is reported and left out; the last good version stays in use.
pub(super) async fn bank(settings: &Settings, deeds: &Deeds) -> Result<(), Failure> {
    let (documents, problems) = match &settings.bank_folder {
        Some(folder) => bank_files::of_folder(folder)
            .map_err(|error| format!("bank_folder {}: the folder cannot be listed: {error}", folder.display()))?,
        None => (bank_files::embedded(), Vec::new()),
    };
    load_bank(deeds, documents, problems, SEEDS).await?;
    let read = deeds.bank.now();
    for problem in &read.problems {
        tracing::warn!("question bank: {problem}");
    }
    tracing::info!(
        templates = read.bank.templates().count(),
        machines = read.bank.machines().count(),
        modules = read.bank.modules().len(),
        schemes = read.bank.schemes().count(),
        problems = read.problems.len(),
        "question bank in use"
    );
    Ok(())
}
