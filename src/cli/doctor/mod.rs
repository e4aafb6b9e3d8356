//! `sootmark doctor`: looks at everything that has to be right for the program to serve and to lose nothing.
//!
//! Only looks: nothing is changed, no letter is sent. Never prints a secret, a name or an address of a person.

mod backups;
mod database;
mod mail;
mod place;

use super::{Failure, answer, start};
use crate::clock::Clock;
use crate::config::Settings;
use clap::Args;
use std::path::Path;
use std::process::ExitCode;

/// Looks whether everything is right, and says what to do about what is not.
#[derive(Debug, Args)]
#[command(after_help = HELP)]
pub(super) struct Doctor {}

const HELP: &str = "Looked at are: the settings; the database (whether it answers, keeps what it was told, is of this program, and is whole);
the chain of the record and its head; the clock; the disk; who can read the files; mail (nothing is sent); letters that wait;
the folder of the question bank, where one is set; backups. The program may serve meanwhile.

Each line begins with OK, Look or Wrong, says what it is about and what was found, and, where something should be done, what.

EXIT CODES: 0 everything is OK; 1 something should be looked at; 2 something is wrong, or the command line is.";

/// How something is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum How {
    Ok,
    Look,
    Wrong,
}

/// What was found about one thing.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Finding {
    how: How,
    about: &'static str,
    says: String,
    todo: String,
}

fn ok(about: &'static str, says: impl Into<String>) -> Finding {
    Finding { how: How::Ok, about, says: says.into(), todo: String::new() }
}

fn look(about: &'static str, says: impl Into<String>, todo: impl Into<String>) -> Finding {
    Finding { how: How::Look, about, says: says.into(), todo: todo.into() }
}

fn wrong(about: &'static str, says: impl Into<String>, todo: impl Into<String>) -> Finding {
    Finding { how: How::Wrong, about, says: says.into(), todo: todo.into() }
}

impl Doctor {
    /// Runs the command.
    pub(super) async fn run(self, file: Option<&Path>) -> Result<ExitCode, Failure> {
        let Self {} = self;
        let findings = match start::settings(file) {
            Ok(settings) => looked_at(&settings, file, &Clock::system()).await,
            Err(Failure(cause)) => {
                vec![wrong(
                    "Settings",
                    cause,
                    "Change the setting that is named; `sootmark serve --help` lists them all.",
                )]
            }
        };
        for finding in &findings {
            answer(&in_words(finding))?;
        }
        let count = |how| findings.iter().filter(|finding| finding.how == how).count();
        let (fine, look, wrong) = (count(How::Ok), count(How::Look), count(How::Wrong));
        answer(&format!("Looked at {}: {fine} OK, {look} to look at, {wrong} wrong.", findings.len()))?;
        Ok(match findings.iter().map(|finding| finding.how).max() {
            Some(How::Wrong) => ExitCode::from(2),
            Some(How::Look) => ExitCode::from(1),
            Some(How::Ok) | None => ExitCode::SUCCESS,
        })
    }
}

async fn looked_at(settings: &Settings, file: Option<&Path>, clock: &Clock) -> Vec<Finding> {
    let mut findings = vec![place::settings(settings)];
    let opened = database::open(settings).await;
    match &opened {
        Ok(db) => findings.extend(database::looked_at(db, clock).await),
        Err(finding) => findings.push(finding.clone()),
    }
    findings.push(place::disk(settings));
    findings.push(place::readers(settings, file));
    findings.push(mail::way_out(settings).await);
    let db = opened.ok();
    if let Some(db) = &db {
        findings.push(mail::letters(db).await);
    }
    findings.extend(place::bank(settings));
    findings.push(backups::looked_at(settings, db.as_ref(), clock).await);
    findings
}

fn in_words(finding: &Finding) -> String {
    let how = match finding.how {
        How::Ok => "OK",
        How::Look => "Look",
        How::Wrong => "Wrong",
    };
    let says = finding.says.trim_end_matches('.');
    match finding.todo.as_str() {
        "" => format!("{how}. {}: {says}.", finding.about),
        todo => format!("{how}. {}: {says}. What to do: {todo}", finding.about),
    }
}
