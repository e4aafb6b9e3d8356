//! From a backup into an empty database, of whichever kind: everything and verified, or nothing.

use super::file::{Line, RowsDigest};
use super::place::{Unfinished, sqlite_file, sqlite_url, with_end};
use super::{Backup, BackupError, Held};
use crate::store::record::{self, Verification};
use crate::store::{self, dump};
use sea_orm::DatabaseTransaction;
use std::path::Path;

/// Restores a file into the database of an address, which must be empty; older tables are brought up to date.
///
/// # Errors
/// When the file is no whole backup, the place is not empty, or what came in is not what the backup holds. Then nothing is left.
pub async fn restore(file: &Path, url: &str) -> Result<Held, BackupError> {
    let backup = Backup::open(file)?;
    fits(&backup)?;
    match sqlite_file(url) {
        Some(path) => into_sqlite(&backup, &path).await?,
        None => into_postgres(&backup, url).await?,
    }
    Ok(backup.held())
}

/// The database is made beside its place and gets its name when it is whole.
async fn into_sqlite(backup: &Backup, path: &Path) -> Result<(), BackupError> {
    for end in ["", "-wal", "-shm", "-journal"] {
        let there = with_end(path, end);
        if there.exists() {
            return Err(BackupError::NotEmpty(there.display().to_string()));
        }
    }
    let (unfinished, _) = Unfinished::new(with_end(path, ".restoring"))?;
    fill_file(backup, unfinished.path()).await?;
    unfinished.name(path)
}

/// Fills a new SQLite file.
pub(super) async fn fill_file(backup: &Backup, path: &Path) -> Result<(), BackupError> {
    let db = store::connect(&sqlite_url(path)).await?;
    let filled = store::write::<_, BackupError, _>(&db, async |tx| fill(tx, backup).await).await;
    db.close().await?;
    filled
}

async fn into_postgres(backup: &Backup, url: &str) -> Result<(), BackupError> {
    let db = store::connect(url).await?;
    let filled = store::write::<_, BackupError, _>(&db, async |tx| match dump::is_empty(tx).await? {
        true => fill(tx, backup).await,
        false => Err(BackupError::NotEmpty("the database of the settings".to_owned())),
    });
    let filled = filled.await;
    db.close().await?;
    filled
}

/// Whether the tables of the backup are those of a release that this program has grown out of.
fn fits(backup: &Backup) -> Result<(), BackupError> {
    let (known, steps) = (dump::known_steps(), backup.held().steps);
    if steps.iter().any(|step| !known.contains(step)) {
        return Err(BackupError::Newer(backup.path().to_owned()));
    }
    match known.starts_with(&steps) && !steps.is_empty() {
        true => Ok(()),
        false => Err(BackupError::OtherSteps(backup.path().to_owned())),
    }
}

/// Makes the tables, fills them, writes them out again to compare every row, and brings them up to date.
async fn fill(transaction: &DatabaseTransaction, backup: &Backup) -> Result<(), BackupError> {
    let (held, unlike) = (backup.held(), |what: String| BackupError::Damaged(backup.path().to_owned(), what));
    dump::make_tables(transaction, Some(held.steps.len())).await?;
    let mut loader = dump::Loader::begin(transaction).await?;
    for line in backup.lines()? {
        match line? {
            Line::Table(name, columns) => loader.table(&name, &columns).await?,
            Line::Row(row) => loader.row(row).await?,
        }
    }
    loader.end(&held.contents).await?;
    let mut digest = RowsDigest::default();
    let came_in = dump::write_out::<BackupError>(transaction, |line| {
        digest.add(line);
        Ok(())
    });
    if came_in.await? != held.contents || digest.end() != backup.end().rows_sha256 {
        return Err(unlike("its rows do not come back as they were".to_owned()));
    }
    dump::make_tables(transaction, None).await?;
    let (entries, head) = (held.contents.entries, &held.contents.head);
    match record::verify(transaction).await? {
        Verification::Whole { entries: found, last_hash } if found == entries && last_hash == *head => {}
        broken => return Err(unlike(format!("the chain of its record does not hold ({broken:?})"))),
    }
    match dump::is_sound(transaction).await? {
        wrong if wrong.is_empty() => Ok(()),
        wrong => Err(unlike(wrong.join("; "))),
    }
}
