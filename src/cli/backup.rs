//! `sootmark backup FILE` and `sootmark restore FILE`: the whole database in a file, and back into an empty place.
//!
//! Never overwrites anything, and says "verified" only of what was restored once and compared row by row.

use super::{Failure, answer, start};
use crate::backup::{Held, make, restore};
use crate::clock::Clock;
use clap::Args;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Writes the whole database into a file.
#[derive(Debug, Args)]
#[command(after_help = BACKUP_HELP)]
pub(super) struct Backup {
    /// The file to make. It must not be there yet.
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

const BACKUP_HELP: &str = "The database is the one of the settings, SQLite or PostgreSQL, and may be served meanwhile: what is written is how it
stood at one moment. The file holds every table except who is signed in. It is restored once beside itself into a database
that is thrown away, every row is compared, the record's chain is followed, and only then does the file get its name. That
takes about twice the room of the database for as long as it works.

The key that signs certificates and the hashes of passwords are in it: keep the file as safe as the database. Not in it are
the settings, a question bank of your own in a folder, and letters that are kept as files.

EXIT CODES: 0 made and verified; 1 not made, and nothing was left behind; 2 the command line is wrong.";

/// Makes the database anew from a backup.
#[derive(Debug, Args)]
#[command(after_help = RESTORE_HELP)]
pub(super) struct Restore {
    /// A file that `sootmark backup` made.
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

const RESTORE_HELP: &str = "The database is the one of the settings, and must be empty: no SQLite file, or no table in PostgreSQL. It need not be of the
kind that the backup was made of. Every byte of the file is checked before anything is made; every row is compared after it
came in, and the record's chain is followed to the end that the backup names. When anything does not fit, nothing is left.

Tables of an older release are brought up to date. Everybody signs in again. Letters that waited when the backup was made
wait again: one that was sent since is sent a second time. Invitations and letters' links that were used since work again.

EXIT CODES: 0 restored and verified; 1 not restored, and nothing was left behind; 2 the command line is wrong.";

impl Backup {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        let settings = start::settings(settings)?;
        let made = make(settings.database().reveal(), &self.file, Clock::system().now()).await;
        let made = made.map_err(|cause| format!("backup: {cause}"))?;
        answer(&format!("Backup: {}, {} bytes.", self.file.display(), made.bytes));
        tell(&made.held);
        answer("Verified: restored once into a database that was thrown away; every row came back the same.");
        answer("Keep it on another machine, and keep the head apart from both.");
        Ok(ExitCode::SUCCESS)
    }
}

impl Restore {
    /// Runs the command.
    pub(super) async fn run(self, settings: Option<&Path>) -> Result<ExitCode, Failure> {
        let settings = start::settings(settings)?;
        if settings.database_url.is_none() {
            let folder = &settings.data_folder;
            std::fs::create_dir_all(folder).map_err(|error| format!("data_folder {}: {error}", folder.display()))?;
        }
        let held = restore(&self.file, settings.database().reveal()).await;
        let held = held.map_err(|cause| format!("restore: {cause}"))?;
        answer(&format!("Restored: {}.", self.file.display()));
        tell(&held);
        answer("Verified: every row came in as it was written, and the record's chain is whole up to that head.");
        answer("Next: `sootmark audit verify --head HEAD` with the head that you kept, then `sootmark serve`.");
        Ok(ExitCode::SUCCESS)
    }
}

fn tell(held: &Held) {
    let at = jiff::Timestamp::from_microsecond(held.made_at).unwrap_or_default();
    answer(&format!("Stood so at: {}", at.strftime("%Y-%m-%d %H:%M:%S UTC")));
    answer(&format!("People: {}", held.count("person")));
    answer(&format!("Attempts: {}", held.count("attempt")));
    answer(&format!("Answers: {}", held.count("response")));
    answer(&format!("Entries of the record: {}", held.contents.entries));
    answer(&format!("Head: {}", held.contents.head));
    answer(&format!("Schema: {}", held.schema()));
}
