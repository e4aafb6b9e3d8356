//! Backups by themselves: one every so often into a folder, of which the newest are kept.
//!
//! Never takes away a file that it did not name itself, and none at all unless the newest was found whole.

use super::back_up::{BackupError, Contents, back_up};
use crate::domain::units::Moment;
use jiff::civil::DateTime;
use jiff::{Timestamp, tz::TimeZone};
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

/// The backups in a folder, the oldest first, each with when it was made; files of other names are not among them.
///
/// # Errors
/// When the folder cannot be listed.
pub fn backups_in(folder: &Path) -> io::Result<Vec<(Moment, PathBuf)>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
        let made = DateTime::strptime(NAME, name).ok().and_then(|at| TimeZone::UTC.to_timestamp(at).ok());
        if let Some(made) = made {
            found.push((Moment(made.as_microsecond()), path));
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
    let newest = backups_in(folder).map_err(failed)?.pop();
    let due = newest.is_none_or(|(made, _)| now >= made.plus_seconds(i64::from(keeping.every_hours) * 3600));
    let name = Timestamp::from_microsecond(now.0).ok().map(|now| now.strftime(NAME).to_string());
    let (true, Some(name)) = (due, name) else { return Ok(None) };
    let contents = back_up(url, &folder.join(name)).await?;
    let all = backups_in(folder).map_err(failed)?;
    for (_, old) in &all[..all.len().saturating_sub(keeping.kept)] {
        std::fs::remove_file(old).map_err(failed)?;
    }
    Ok(Some(contents))
}
