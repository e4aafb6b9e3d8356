//! Backups by themselves: one every so often into a folder, of which the newest are kept.
//!
//! Never takes away a file that it did not name itself, and none at all unless the newest was found whole.

use super::back_up::{BackupError, Contents, back_up};
use crate::domain::units::Moment;
use crate::store::{Db, StoreError, settings, write};
use jiff::civil::DateTime;
use jiff::{Timestamp, tz::TimeZone};
use serde::{Deserialize, Serialize};
use std::io;
use std::path::{Path, PathBuf};

/// Which backups are kept, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Keeping {
    /// The folder.
    pub folder: PathBuf,
    /// Hours from one to the next.
    pub every_hours: u32,
    /// How many are kept.
    pub kept: usize,
}

/// How names are written: in UTC, so that their order is that of time.
const NAME: &str = "sootmark-%Y%m%dT%H%M%SZ.sqlite";

/// The name in the database under which the last try is kept.
const LAST_TRY: &str = "last_backup";

/// How the last try ended, whichever server made it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LastTry {
    /// When, in microseconds since 1970.
    pub at: i64,
    /// Why it failed; none when it did not.
    pub failed: Option<String>,
}

/// How the last try ended; none before the first.
///
/// # Errors
/// Those of every query.
pub async fn last_try(db: &Db) -> Result<Option<LastTry>, StoreError> {
    let kept = settings::find(db, LAST_TRY).await?;
    Ok(kept.and_then(|text| serde_json::from_str(&text).ok()))
}

/// Keeps how a try ended, for whoever asks the program how it is.
///
/// # Errors
/// Those of every write.
pub async fn note_try(db: &Db, at: Moment, failed: Option<String>) -> Result<(), StoreError> {
    let text = serde_json::to_string(&LastTry { at: at.0, failed });
    let text = text.map_err(|error| StoreError::Corrupt(error.to_string()))?;
    write::<_, StoreError, _>(db, async |tx| settings::set(tx, LAST_TRY, &text).await).await
}

/// The name of a backup of this moment.
fn name_of(at: Moment) -> Option<String> {
    Timestamp::from_microsecond(at.0).ok().map(|at| at.strftime(NAME).to_string())
}

/// When a backup of this name was made; none when the name is not exactly of the form.
fn made_at(name: &str) -> Option<Moment> {
    let at = DateTime::strptime(NAME, name).ok().and_then(|at| TimeZone::UTC.to_timestamp(at).ok())?;
    let at = Moment(at.as_microsecond());
    (name_of(at).as_deref() == Some(name)).then_some(at)
}

/// The backups in a folder, the oldest first, each with when it was made; files of other names are not among them. A folder
/// that is not there has none.
///
/// # Errors
/// When the folder cannot be listed.
pub fn backups_in(folder: &Path) -> io::Result<Vec<(Moment, PathBuf)>> {
    let entries = match std::fs::read_dir(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        listed => listed?,
    };
    let mut found = Vec::new();
    for entry in entries {
        let entry = entry?;
        if let Some(made) = entry.file_name().to_str().and_then(made_at) {
            found.push((made, entry.path()));
        }
    }
    found.sort();
    Ok(found)
}

/// Backs up when the newest backup is old enough, and then takes away those that are too many. Gives what the new one holds.
///
/// # Errors
/// Whatever keeps a backup from being made or being whole, or the folder from being used: the older ones are all kept then.
pub async fn keep_backups(url: &str, keeping: &Keeping, now: Moment) -> Result<Option<Contents>, BackupError> {
    let folder = &keeping.folder;
    let failed = |cause| BackupError::File { file: folder.clone(), cause };
    std::fs::create_dir_all(folder).map_err(failed)?;
    // One from the future was made by a wrong clock, and says nothing about when the next is due.
    let newest = backups_in(folder).map_err(failed)?.into_iter().rfind(|(made, _)| *made <= now);
    let due = newest.is_none_or(|(made, _)| now >= made.plus_seconds(i64::from(keeping.every_hours) * 3600));
    let (true, Some(name)) = (due, name_of(now)) else { return Ok(None) };
    let just_made = folder.join(name);
    let contents = back_up(url, &just_made).await?;
    // The one just made stays whatever its name says beside the others'.
    let mut others = backups_in(folder).map_err(failed)?;
    others.retain(|(_, path)| *path != just_made);
    for (_, old) in &others[..others.len().saturating_sub(keeping.kept.saturating_sub(1))] {
        std::fs::remove_file(old).map_err(failed)?;
    }
    Ok(Some(contents))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_the_exact_form_are_its_own() {
        let at = Moment(1_795_507_200_000_000);
        assert_eq!(name_of(at).as_deref(), Some("sootmark-20261124T080000Z.sqlite"));
        assert_eq!(made_at("sootmark-20261124T080000Z.sqlite"), Some(at));
        for other in [
            "sootmark-20261124T080000Z.sqlite.part-17",
            "sootmark-20261124T080000Z.sqlite (1)",
            "sootmark-2026-11-24.sqlite",
            "sootmark-20261324T080000Z.sqlite",
            "sootmark-20261124T80000Z.sqlite",
            "Sootmark-20261124T080000Z.sqlite",
            "before-the-move.sqlite",
        ] {
            assert_eq!(made_at(other), None, "{other}");
        }
    }
}
