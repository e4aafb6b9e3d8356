//! The files that a journey and a forecast begin with: the machine, the duty and, if given, the readings at the beginning.
//!
//! Reads all of them before it refuses any, so that every problem of every file is told at once.

use super::{Row, read, stretches};
use crate::cli::files::{named, text_of};
use crate::cli::judge::reading::{self, Read};
use crate::cli::{Failure, say};
use crate::domain::aftertreatment::journey::Stretch;
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::document::Problem;
use clap::Args;
use std::path::{Path, PathBuf};

/// The files.
#[derive(Debug, Args)]
pub(in crate::cli) struct Inputs {
    /// The machine's profile, as in question-bank/machines/; - reads stdin.
    #[arg(long, value_name = "FILE")]
    machine: PathBuf,
    /// The duty as CSV; - reads stdin.
    #[arg(long, value_name = "FILE")]
    duty: PathBuf,
    /// The readings at the beginning as JSON, as for sootmark judge; - reads stdin. Left out: a clean filter.
    #[arg(long, value_name = "FILE")]
    situation: Option<PathBuf>,
}

/// What the files say.
pub(in crate::cli) struct Given {
    pub(in crate::cli) profile: Profile,
    pub(in crate::cli) start: Read,
    pub(in crate::cli) duty: Vec<Stretch>,
}

impl Inputs {
    /// Reads the files; `None` when one of them is wrong and every problem has been told.
    pub(in crate::cli) fn read(&self) -> Result<Option<Given>, Failure> {
        let files = [Some(&self.machine), Some(&self.duty), self.situation.as_ref()];
        if files.into_iter().flatten().filter(|file| file.as_path() == Path::new("-")).count() > 1 {
            return Err("only one of --machine, --duty and --situation can be -: name files for the others".into());
        }
        let machine = text_of("--machine", &self.machine)?;
        let duty = text_of("--duty", &self.duty)?;
        let situation = self.situation.as_ref().map(|file| text_of("--situation", file)).transpose()?;
        let start_file = self.situation.as_deref().map_or_else(|| "situation".to_owned(), named);
        let profile = Profile::read(&named(&self.machine), &machine);
        let rows: Result<Vec<Row>, _> = read(&named(&self.duty), &duty);
        let start = reading::read(&start_file, situation.as_deref().unwrap_or("{}"));
        match (profile, rows, start) {
            (Ok(profile), Ok(rows), Ok(start)) => {
                let duty = stretches(&profile, rows);
                Ok(Some(Given { profile, start, duty }))
            }
            (profile, rows, start) => {
                told(&[profile.err(), rows.err(), start.err()]);
                Ok(None)
            }
        }
    }
}

fn told(problems: &[Option<Vec<Problem>>]) {
    for problem in problems.iter().flatten().flatten() {
        say(&problem.to_string());
    }
    say("Not worked out. Correct what is listed and try again.");
}
