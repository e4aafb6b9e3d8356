//! The command line: one file per command. What was asked for goes to stdout, messages go to stderr, and an error names
//! the flag, the file or the setting to change.
//!
//! Does nothing itself: commands call actions.

mod audit;
mod backup;
mod bank;
mod demo;
mod doctor;
mod duty;
mod files;
mod forecast;
mod issuer;
mod journey;
mod judge;
mod log;
mod people;
mod record;
mod replay;
mod serve;
mod sheet;
mod start;

use clap::{Parser, Subcommand};
use std::fmt::Display;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

/// Teaches, examines and records who does the right and safe thing with a diesel particulate filter.
#[derive(Debug, Parser)]
#[command(name = "sootmark", version)]
struct Line {
    /// A TOML file with settings; what the environment says (SOOTMARK_...) outranks it.
    #[arg(long, global = true, value_name = "FILE", env = "SOOTMARK_SETTINGS")]
    settings: Option<PathBuf>,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Serve the pages.
    #[command(after_help = crate::config::help())]
    Serve,
    /// Serve a demo organisation on this machine, with a database of its own.
    Demo(demo::Demo),
    /// Bring people in.
    #[command(subcommand)]
    People(people::People),
    /// Check the record.
    #[command(subcommand)]
    Audit(audit::Audit),
    /// Look whether everything is right, and say what to do about what is not.
    Doctor(doctor::Doctor),
    /// Write the whole database into a file, while it is served.
    Backup(backup::Backup),
    /// Make the database anew from a backup, in an empty place.
    Restore(backup::Restore),
    /// The key that signs certificates.
    #[command(subcommand)]
    Issuer(issuer::Issuer),
    /// Write out what is on record for other systems.
    #[command(subcommand)]
    Record(record::Record),
    /// Make an attempt again from versions and seed, grade it again, and compare with what is stored.
    Replay(replay::Replay),
    /// Judge one machine at one moment: what to do first and why, what is permitted, what is forbidden, what is dangerous.
    Judge(judge::Judge),
    /// Take one machine through a duty: temperature, soot, what happens and what it costs.
    Journey(journey::Journey),
    /// Look ahead on a duty that is worked over and over: when each soot band is entered, and whether work alone is enough.
    Forecast(forecast::Forecast),
    /// Read a machine's log: what it says, what happened, and what the model makes of its last moment.
    Log(log::Log),
    /// Check a question bank, look at what it asks, take scenarios out of the database and in again.
    #[command(subcommand)]
    Bank(bank::Bank),
}

/// Why a command ended without having done its work: the message is for whoever typed it.
#[derive(Debug)]
pub(crate) struct Failure(String);

impl<E: Display> From<E> for Failure {
    fn from(error: E) -> Self {
        Self(error.to_string())
    }
}

/// Runs what the command line says.
pub async fn run() -> ExitCode {
    let line = Line::parse();
    let done = match line.command {
        Command::Serve => serve::serve(line.settings.as_deref()).await,
        Command::Demo(demo) => demo.run().await,
        Command::People(people) => people.run(line.settings.as_deref()).await,
        Command::Audit(audit) => audit.run(line.settings.as_deref()).await,
        Command::Doctor(doctor) => doctor.run(line.settings.as_deref()).await,
        Command::Backup(backup) => backup.run(line.settings.as_deref()).await,
        Command::Restore(restore) => restore.run(line.settings.as_deref()).await,
        Command::Issuer(issuer) => issuer.run(line.settings.as_deref()).await,
        Command::Record(record) => record.run(line.settings.as_deref()).await,
        Command::Replay(replay) => replay.run(line.settings.as_deref()).await,
        Command::Judge(judge) => judge.run(),
        Command::Journey(journey) => journey.run(),
        Command::Forecast(forecast) => forecast.run(),
        Command::Log(log) => log.run(),
        Command::Bank(bank) => bank.run(line.settings.as_deref()).await,
    };
    match done {
        Ok(code) => code,
        Err(Failure(message)) => {
            say(&format!("Sootmark: {message}"));
            ExitCode::FAILURE
        }
    }
}

/// A message, on stderr.
fn say(message: &str) {
    // Not `eprintln!`, which ends the program when stderr is a file on a full disk.
    let _ = writeln!(std::io::stderr(), "{message}");
}

/// What was asked for, as a line on stdout.
fn answer(text: &str) -> Result<(), Failure> {
    // Whoever has seen enough, as `head` has, still gets the exit code.
    sheet::hand_over(&format!("{text}\n")).map(drop)
}
