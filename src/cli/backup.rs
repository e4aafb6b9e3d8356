//! `sootmark backup` and `sootmark restore`: the whole database into one file, and back into an empty place.
//!
//! Never overwrites anything, and says in numbers what was found, so that two people can compare it.

use super::{Failure, answer, start};
use crate::actions::back_up::{Contents, back_up, look_into_backup, restore};
use crate::clock::Clock;
use clap::Args;
use jiff::Timestamp;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Makes a backup.
#[derive(Debug, Args)]
#[command(after_help = BACKUP_HELP)]
pub(super) struct Backup {
    /// The file. It must not be there yet; only its owner can read it.
    file: PathBuf,
}

const BACKUP_HELP: &str =
    "The database is the one of the settings, and may be served meanwhile: the backup is how it stood at
one moment. It is read again before it gets its name: the file's own checks, the triggers that refuse change and removal,
the record's chain, and every examination graded again.

A backup is an SQLite database, also of PostgreSQL, so that it can be put back into either. It holds everything: names,
answers, hashes of passwords, and the secret keys that sign certificates. Keep it as you keep keys, and not on the same
machine. The settings, the letters kept as files and a bank_folder are not in it.

By itself: set backup_folder, and see backup_every_hours and backups_kept in `sootmark serve --help`.";

/// Puts one back.
#[derive(Debug, Args)]
#[command(after_help = RESTORE_HELP)]
pub(super) struct Restore {
    /// The backup.
    file: PathBuf,
    /// Only look whether it is whole and what it holds; change nothing.
    #[arg(long)]
    look: bool,
}

const RESTORE_HELP: &str = "Where it goes is the database of the settings, where nothing may be: no file, or a PostgreSQL database without rows.
The backup is read to its last byte first, and again where it was put. Then everybody is signed out, and the record says
that the database was put back and where its chain had ended.

Letters that waited in the backup are sent again, also those that were sent since. What happened after the backup is
gone: compare the heads that were printed since.

EXIT CODES: 0 it is there; 1 it is not, and nothing was changed.";

impl Backup {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        let settings = start::settings(settings)?;
        start::is_there(&settings).await?;
        let contents = back_up(settings.database().reveal(), &self.file).await?;
        answer(&format!("Backed up into {}.", self.file.display()))?;
        told(&contents)?;
        answer(
            "Keep it on another machine, with the head beside it, and try now and then whether it can be put back.",
        )?;
        Ok(ExitCode::SUCCESS)
    }
}

impl Restore {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        if self.look {
            let contents = look_into_backup(&self.file).await?;
            answer(&format!("{} is whole.", self.file.display()))?;
            told(&contents)?;
            return Ok(ExitCode::SUCCESS);
        }
        let settings = start::settings(settings)?;
        if settings.database_url.is_none() {
            start::make_data_folder(&settings)?;
        }
        let contents = restore(&self.file, settings.database().reveal(), &Clock::system()).await?;
        answer(&format!("{} is put back.", self.file.display()))?;
        told(&contents)?;
        answer("Everybody is signed out. Start `sootmark serve`.")?;
        Ok(ExitCode::SUCCESS)
    }
}

fn told(of: &Contents) -> Result<(), Failure> {
    answer(&format!(
        "People: {}. Attempts: {}, of which {} graded again.",
        of.amount.people, of.amount.attempts, of.graded_again
    ))?;
    let newest = of.amount.newest.and_then(|at| Timestamp::from_microsecond(at.0).ok());
    let newest =
        newest.map_or_else(String::new, |at| format!(" The newest is from {}.", at.strftime("%-d %b %Y %H:%M UTC")));
    answer(&format!("Entries of the record: {}.{newest}", of.amount.entries))?;
    answer(&format!("Head: {}", of.head))
}
