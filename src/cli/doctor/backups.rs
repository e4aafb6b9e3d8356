//! The newest scheduled backup: whether there is one, how old it is, and whether every byte of it is as it was written.

use super::{Finding, look, ok, wrong};
use crate::actions::back_up::is_as_written;
use crate::actions::keep_backups::{backups_in, last_try};
use crate::clock::Clock;
use crate::config::Settings;
use crate::store::Db;

/// What there is in the folder of the settings.
pub(super) async fn looked_at(settings: &Settings, db: Option<&Db>, clock: &Clock) -> Finding {
    let Some(folder) = &settings.backup_folder else {
        return look(
            "Backups",
            "the program makes none by itself",
            "Set backup_folder to a folder on another disk, or call `sootmark backup FILE` regularly; try a restore.",
        );
    };
    let listed = match backups_in(folder) {
        Ok(listed) => listed,
        Err(error) => {
            let says = format!("{}: {error}", folder.display());
            return wrong("Backups", says, "Let the program's user read and write the folder.");
        }
    };
    let last = match db {
        Some(db) => last_try(db).await.ok().flatten(),
        None => None,
    };
    let failed = last.and_then(|last| last.failed);
    // One from the future was made by a wrong clock: how old it is, nobody knows.
    let now = clock.now();
    let from_future = listed.iter().find(|(at, _)| *at > now).map(|(_, file)| file.display());
    let Some((at, newest)) = listed.iter().rfind(|(at, _)| *at <= now) else {
        return none(failed, from_future.map(|file| file.to_string()));
    };
    let age_h = (now.0 - at.0) / 3_600_000_000;
    let name = newest.display();
    if let Err(cause) = is_as_written(newest) {
        return wrong(
            "Backups",
            cause.to_string(),
            "Look at that disk, and make a new one with `sootmark backup FILE`.",
        );
    }
    if let Some(cause) = failed {
        let says = format!("the last try failed: {cause}. The newest is {age_h} hours old: {name}");
        return wrong("Backups", says, "Put right what is named; the next try follows within minutes.");
    }
    let says = format!(
        "the newest of {} is {age_h} hours old, and every byte of it is as it was written: {name}",
        listed.iter().filter(|(at, _)| *at <= now).count()
    );
    if age_h > 2 * i64::from(settings.backup_every_hours) {
        let todo =
            format!("One was due every {} hours. Look whether `sootmark serve` runs.", settings.backup_every_hours);
        return wrong("Backups", says, todo);
    }
    match from_future {
        Some(file) => look("Backups", format!("{says}. The name of {file} lies in the future"), CLOCK),
        None => ok("Backups", says),
    }
}

const CLOCK: &str =
    "Look at this machine's clock. If it is right, take the file away: it was made when the clock was wrong.";

/// There is none whose age is known.
fn none(failed: Option<String>, from_future: Option<String>) -> Finding {
    if let Some(file) = from_future {
        return wrong("Backups", format!("there is none but {file}, whose name lies in the future"), CLOCK);
    }
    let says =
        failed.map_or("there is none yet".to_owned(), |cause| format!("there is none; the last try failed: {cause}"));
    wrong("Backups", says, "`sootmark serve` makes one at its start; look into its log when it does not.")
}
