//! The database: whether it answers, keeps what it was told, is of this program, is whole; its record; the clock against it.

use super::{Finding, look, ok, wrong};
use crate::clock::Clock;
use crate::config::Settings;
use crate::store::backup::{damage, file_of};
use crate::store::read::vitals::{durability, newest_entry, time_at_database};
use crate::store::record::{self, Verification};
use crate::store::{ConnectError, Db, StoreError, connect_to_read, newest_step};

/// Further apart than this, deadlines and sessions begin to differ between servers.
const APART_US: i64 = 2_000_000;

/// The database, opened to look.
pub(super) async fn open(settings: &Settings) -> Result<Db, Finding> {
    let url = settings.database();
    if let Some(file) = file_of(url.reveal())
        && !file.exists()
    {
        let says = format!("there is none at {}", file.display());
        let todo = "`sootmark serve` makes an empty one; `sootmark restore FILE` one from a backup.";
        return Err(wrong("Database", says, todo));
    }
    connect_to_read(url.reveal()).await.map_err(|cause| {
        let todo = match &cause {
            ConnectError::Older => "Make a backup with the program that made it, then start `sootmark serve` once.",
            ConnectError::Newer(_) => "Use the newer program.",
            ConnectError::NoTables => "Start `sootmark serve` once, or put a backup back with `sootmark restore FILE`.",
            ConnectError::UnknownKind => "Change database_url.",
            ConnectError::Silent(_) => "Look whether it runs, whether database_url is right, and what stands between.",
            _ => "Look whether it runs, whether database_url is right, and who may read the file.",
        };
        let says = match &cause {
            ConnectError::Silent(seconds) => format!("it cannot be reached: no answer within {seconds} seconds"),
            _ => cause.to_string(),
        };
        wrong("Database", says, todo)
    })
}

/// Everything about it.
pub(super) async fn looked_at(db: &Db, clock: &Clock) -> Vec<Finding> {
    let unanswered = |about, cause: StoreError| wrong(about, cause.to_string(), "Look into the database's own log.");
    vec![
        kept(db).await.unwrap_or_else(|cause| unanswered("Database", cause)),
        whole(db).await.unwrap_or_else(|cause| unanswered("Tables", cause)),
        chain(db).await.unwrap_or_else(|cause| unanswered("Record", cause)),
        time(db, clock).await.unwrap_or_else(|cause| unanswered("Clock", cause)),
    ]
}

async fn kept(db: &Db) -> Result<Finding, StoreError> {
    let durability = durability(db).await?;
    let bad: Vec<String> = durability.lacking.iter().map(|(name, found)| format!("{name} is {found}")).collect();
    Ok(match bad.is_empty() {
        true => ok("Database", format!("{} answers, and keeps what it has said it keeps", durability.which)),
        false => wrong(
            "Database",
            format!(
                "{} answers, but a power cut could take saved answers with it: {}",
                durability.which,
                bad.join(", ")
            ),
            "Set it so that a commit is on the disk before it is answered. For SQLite: keep the file on a local disk.",
        ),
    })
}

async fn whole(db: &Db) -> Result<Finding, StoreError> {
    let unsound = damage(db).await?;
    let schema = newest_step();
    Ok(match unsound.is_empty() {
        true => ok("Tables", format!("of this program ({schema}), and whole as far as the database knows")),
        false => wrong(
            "Tables",
            unsound.join("; "),
            "Stop the program, keep the database as it is, restore the last good backup elsewhere, and look at the disk \
             and at who can change the database.",
        ),
    })
}

async fn chain(db: &Db) -> Result<Finding, StoreError> {
    Ok(match record::verify(db).await? {
        Verification::Whole { entries, last_hash } => {
            ok("Record", format!("the chain is whole, {entries} entries; its head is {last_hash}"))
        }
        Verification::Broken { .. } | Verification::CutShort { .. } | Verification::HeadMissing { .. } => wrong(
            "Record",
            "the chain does not hold",
            "Change nothing; `sootmark audit verify` says where. Until then, trust no qualification that rests on it.",
        ),
    })
}

/// The machine's clock against the newest entry of the record, and against the database's machine where that is another.
async fn time(db: &Db, clock: &Clock) -> Result<Finding, StoreError> {
    let before = clock.now();
    let there = time_at_database(db).await?;
    let after = clock.now();
    let newest = newest_entry(db).await?;
    if let Some(newest) = newest.filter(|newest| newest.0 > after.0 + APART_US) {
        let ahead_s = (newest.0 - after.0) / 1_000_000;
        return Ok(wrong(
            "Clock",
            format!("the newest entry of the record is {ahead_s} seconds in the future"),
            "Set the clock right, by a time service, before anyone sits an examination. Note when it was wrong.",
        ));
    }
    let apart_us = there.map_or(0, |there| (before.0 - there.0).max(there.0 - after.0).max(0));
    Ok(match apart_us > APART_US {
        true => look(
            "Clock",
            format!("this machine and the database's are {} seconds apart", apart_us / 1_000_000),
            "Set both by a time service: every server gives examinations the same time only if their clocks agree.",
        ),
        false => ok("Clock", "not behind the record, nor apart from the database's"),
    })
}
