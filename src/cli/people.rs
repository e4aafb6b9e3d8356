//! `sootmark people import FILE`: brings everyone of a roster in, or reports every bad row.

use super::{Failure, answer, say, start};
use crate::actions::import_people::{Import, UnknownBranches, import_people};
use clap::Subcommand;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Bring people in.
#[derive(Debug, Subcommand)]
pub(super) enum People {
    /// Bring everyone of a roster in, or nobody: a CSV file with the heading name,email,branch,role (and scheme).
    /// Each gets an invitation by mail.
    Import {
        /// The roster; - reads stdin.
        file: PathBuf,
        /// Add branches that are not there yet, in the time zone of the settings.
        #[arg(long)]
        add_branches: bool,
    },
}

impl People {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        let Self::Import { file, add_branches } = self;
        let settings = start::settings(settings)?;
        let text = text_of(&file)?;
        let deeds = start::deeds(&settings).await?;
        // A roster names schemes: those of the bank that `serve` works with.
        start::bank(&settings, &deeds).await?;
        let origin = settings.public_origin();
        let unknown =
            if add_branches { UnknownBranches::Add { time_zone: settings.time_zone } } else { UnknownBranches::Refuse };
        let done = import_people(&deeds, None, &text, unknown).await?;
        deeds.db.close().await?;
        Ok(told(&file, &origin, done))
    }
}

fn told(file: &Path, origin: &str, done: Import) -> ExitCode {
    match done {
        Import::Done { people, branches } => {
            for branch in branches {
                answer(&format!("branch added: {branch}"));
            }
            answer(&format!("people brought in: {people}"));
            say(&format!("Their invitations link to {origin}, and leave as soon as `sootmark serve` runs."));
            ExitCode::SUCCESS
        }
        Import::Refused(problems) => {
            for problem in &problems {
                say(&format!("{}: {problem}", file.display()));
            }
            let count =
                if problems.len() == 1 { "one problem".to_owned() } else { format!("{} problems", problems.len()) };
            say(&format!("Nobody was brought in: {count}."));
            ExitCode::FAILURE
        }
    }
}

fn text_of(file: &Path) -> Result<String, Failure> {
    let mut bytes = Vec::new();
    let read = if file == Path::new("-") {
        std::io::stdin().read_to_end(&mut bytes)
    } else {
        std::fs::File::open(file).and_then(|mut open| open.read_to_end(&mut bytes))
    };
    read.map_err(|error| format!("{}: {error}", file.display()))?;
    String::from_utf8(bytes).map_err(|_| format!("{}: is not UTF-8. Save it as CSV UTF-8.", file.display()).into())
}
