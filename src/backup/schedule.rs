//! Backups that the program makes by itself, and how many of them it keeps.
//!
//! Only a file whose name has exactly the form of this module is ever deleted, and none before the newest was verified.

use super::{BackupError, make};
use crate::clock::Clock;
use crate::config::Settings;
use crate::domain::units::Moment;
use crate::store::{Db, StoreError, settings, write};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio_util::sync::CancellationToken;

/// How often it is looked whether a backup is due.
const EVERY: Duration = Duration::from_secs(60);
/// After one that failed, the next is tried when so many looks went by: an hour.
const LOOKS_AFTER_FAILURE: u32 = 60;
/// The name in the database under which the last try is written down.
const LAST_TRY: &str = "last_backup";

/// How the last try ended, whoever made it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LastTry {
    /// When, in microseconds since 1970.
    pub at: i64,
    /// Why it failed; none when it did not.
    pub failed: Option<String>,
}

/// How the last scheduled try ended; none before the first.
///
/// # Errors
/// Those of every query.
pub async fn last_try(db: &impl sea_orm::ConnectionTrait) -> Result<Option<LastTry>, StoreError> {
    let kept = settings::find(db, LAST_TRY).await?;
    Ok(kept.and_then(|text| serde_json::from_str(&text).ok()))
}

/// The name of a scheduled backup.
fn name(at: Moment) -> String {
    let at = jiff::Timestamp::from_microsecond(at.0).unwrap_or_default();
    format!("sootmark-{}.backup", at.strftime("%Y%m%dT%H%M%SZ"))
}

/// When a scheduled backup of this name was made; none when the name is not of that form.
fn made_at(file_name: &str) -> Option<Moment> {
    let text = file_name.strip_prefix("sootmark-")?.strip_suffix(".backup")?;
    let at = jiff::civil::DateTime::strptime("%Y%m%dT%H%M%SZ", text)
        .ok()?
        .to_zoned_datetime(jiff::tz::TimeZone::UTC)
        .ok()?;
    let at = Moment(at.timestamp().as_microsecond());
    (name(at) == file_name).then_some(at)
}

/// The scheduled backups of a folder, oldest first. A folder that is not there has none.
///
/// # Errors
/// When the folder cannot be listed.
pub fn kept(folder: &Path) -> std::io::Result<Vec<(Moment, PathBuf)>> {
    let entries = match std::fs::read_dir(folder) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        listed => listed?,
    };
    let mut found = Vec::new();
    for entry in entries {
        let entry = entry?;
        if let Some(at) = entry.file_name().to_str().and_then(made_at) {
            found.push((at, entry.path()));
        }
    }
    found.sort();
    Ok(found)
}

/// Makes a backup when one is due, and then deletes the oldest of those that are too many. Gives whether it made one.
///
/// # Errors
/// When none could be made or verified; nothing was deleted then.
pub async fn make_if_due(settings: &Settings, now: Moment) -> Result<bool, BackupError> {
    let Some(folder) = &settings.backup_folder else { return Ok(false) };
    let every_s = i64::from(settings.backup_every_hours) * 3600;
    let listed = kept(folder).map_err(BackupError::file(folder))?;
    // One from the future was made by a wrong clock, and says nothing about when the next is due.
    let newest = listed.iter().rev().find(|(at, _)| *at <= now);
    if newest.is_some_and(|(at, _)| now < at.plus_seconds(every_s)) {
        return Ok(false);
    }
    std::fs::create_dir_all(folder).map_err(BackupError::file(folder))?;
    let path = folder.join(name(now));
    make(settings.database().reveal(), &path, now).await?;
    delete_too_many(folder, settings.backups_kept, &path)?;
    Ok(true)
}

/// Keeps the newest by name, and in any case the one just made.
fn delete_too_many(folder: &Path, keep: u32, just_made: &Path) -> Result<(), BackupError> {
    let mut listed = kept(folder).map_err(BackupError::file(folder))?;
    listed.retain(|(_, path)| path != just_made);
    let others = usize::try_from(keep).unwrap_or(usize::MAX).saturating_sub(1);
    let too_many = listed.len().saturating_sub(others);
    for (_, path) in listed.into_iter().take(too_many) {
        std::fs::remove_file(&path).map_err(BackupError::file(&path))?;
    }
    Ok(())
}

/// Looks again and again until it is stopped.
pub async fn run(settings: Settings, clock: Clock, db: Db, stop: CancellationToken) {
    if settings.backup_folder.is_none() {
        return;
    }
    let mut wait = 0;
    loop {
        if wait == 0 {
            // Half a backup goes with the future that made it: a stop does not wait for it.
            let tried = tokio::select! {
                tried = make_if_due(&settings, clock.now()) => tried,
                () = stop.cancelled() => return,
            };
            wait = if tried.is_err() { LOOKS_AFTER_FAILURE } else { 1 };
            note(&db, clock.now(), tried, &stop).await;
        }
        wait -= 1;
        tokio::select! {
            () = stop.cancelled() => return,
            () = tokio::time::sleep(EVERY) => {}
        }
    }
}

/// Writes down how it ended, for whoever asks the program how it is.
async fn note(db: &Db, at: Moment, tried: Result<bool, BackupError>, stop: &CancellationToken) {
    let failed = match tried {
        Ok(false) => return,
        Ok(true) => {
            tracing::info!("a backup was made and verified");
            None
        }
        Err(cause) => {
            tracing::error!(%cause, "no backup could be made; the older ones are kept");
            Some(cause.to_string())
        }
    };
    let text = serde_json::to_string(&LastTry { at: at.0, failed }).unwrap_or_default();
    let noted = write::<_, StoreError, _>(db, async |tx| settings::set(tx, LAST_TRY, &text).await).await;
    match noted {
        Ok(()) => {}
        Err(cause @ StoreError::CommitUnknown(_)) => {
            tracing::error!(%cause, "the program stops: whether something was saved is unknown");
            stop.cancel();
        }
        Err(cause) => tracing::warn!(%cause, "how the backup ended was not written down"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_the_exact_form_are_its_own() {
        let at = Moment(1_795_507_200_000_000);
        assert_eq!(name(at), "sootmark-20261124T080000Z.backup");
        assert_eq!(made_at("sootmark-20261124T080000Z.backup"), Some(at));
        for other in [
            "sootmark-20261124T080000Z.backup.part",
            "sootmark-20261124T080000Z.backup (1)",
            "sootmark-2026-11-24.backup",
            "sootmark-20261324T080000Z.backup",
            "Sootmark-20261124T080000Z.backup",
            "before-the-move.backup",
        ] {
            assert_eq!(made_at(other), None, "{other}");
        }
    }
}
