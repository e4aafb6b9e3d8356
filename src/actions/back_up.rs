//! Backing the whole database up into one file, looking into such a file, and putting one back into an empty place.
//!
//! Never calls a copy good that was not read again from its first byte to its last, never overwrites anything, and leaves
//! nothing half-made under a name that somebody would take for a whole one.

mod seal;

use super::check_record::check_record;
use super::on_record::about_database;
use crate::clock::Clock;
use crate::store::backup::{self, Amount, CopyError, address_of, amount, damage, file_of, holds_rows};
use crate::store::record::Verification;
use crate::store::{ConnectError, Db, StoreError, connect, connect_to_read_older, migrate, write};
use serde_json::json;
use std::fs::{File, OpenOptions};
use std::io;
use std::os::unix::fs::OpenOptionsExt as _;
use std::path::{Path, PathBuf};

/// Why a backup was not made or not put back.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// A file or folder cannot be used.
    #[error("{}: {cause}", file.display())]
    File {
        /// Which.
        file: PathBuf,
        /// What the system says.
        cause: io::Error,
    },
    /// A database cannot be opened, read or written.
    #[error(transparent)]
    Copy(#[from] CopyError),
    /// What was to be backed up or put back is not whole.
    #[error("{}", in_words(.0))]
    NotWhole(Vec<String>),
    /// There is something where the backup was to be written or put back.
    #[error("{0}: something is there already, and nothing is ever overwritten")]
    Taken(String),
    /// The file is no backup.
    #[error("{}: this is no backup of Sootmark, or it is damaged: {cause}", file.display())]
    NoBackup {
        /// The file.
        file: PathBuf,
        /// What was wrong.
        cause: String,
    },
}

impl From<StoreError> for BackupError {
    fn from(error: StoreError) -> Self {
        Self::Copy(error.into())
    }
}

impl From<ConnectError> for BackupError {
    fn from(error: ConnectError) -> Self {
        Self::Copy(error.into())
    }
}

fn in_words(faults: &[String]) -> String {
    format!("the copy is not whole:\n  {}", faults.join("\n  "))
}

/// What stands in a backup that was found whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contents {
    /// How much there is.
    pub amount: Amount,
    /// The end of the record's chain.
    pub head: String,
    /// Examinations that were graded again.
    pub graded_again: usize,
}

/// Backs the database at `url` up into a file that is not there yet. It has its name only once it was read again and found
/// whole; only its owner can read it.
///
/// # Errors
/// [`BackupError::Taken`] when the file is there; whatever keeps the copy from being made or from being whole.
pub async fn back_up(url: &str, file: &Path) -> Result<Contents, BackupError> {
    if file.exists() {
        return Err(BackupError::Taken(file.display().to_string()));
    }
    let part = Part::beside(file)?;
    let unseen = backup::copy_out(url, &part.0).await?;
    if !unseen.is_empty() {
        return Err(BackupError::NotWhole(unseen));
    }
    seal::close(&part.0)?;
    let contents = looked_into(&part.0).await?;
    part.becomes(file)?;
    Ok(contents)
}

/// Reads a backup from its first byte to its last: the file's own checks, the chain, every examination graded again.
///
/// # Errors
/// [`BackupError::NoBackup`] and [`BackupError::NotWhole`] say what is wrong with it.
pub async fn look_into_backup(file: &Path) -> Result<Contents, BackupError> {
    looked_into(file).await
}

/// Whether every byte of a backup is as it was written; what it says is not looked into.
///
/// # Errors
/// [`BackupError::NoBackup`] when it is not.
pub fn is_as_written(file: &Path) -> Result<(), BackupError> {
    seal::whole(file).map(|_| ())
}

/// Puts a backup back: into an SQLite file that is not there, or a PostgreSQL database without tables or rows. Every session
/// has ended then, and the record says that and what was put back.
///
/// # Errors
/// [`BackupError::Taken`] when the place is not empty; else as [`look_into_backup`]. Nothing was put back then.
pub async fn restore(file: &Path, url: &str, clock: &Clock) -> Result<Contents, BackupError> {
    let contents = look_into_backup(file).await?;
    match file_of(url) {
        Some(place) => restore_file(file, &place, clock, &contents).await?,
        None => restore_rows(file, url, clock, &contents).await?,
    }
    Ok(contents)
}

async fn restore_file(file: &Path, place: &Path, clock: &Clock, contents: &Contents) -> Result<(), BackupError> {
    for name in ["", "-wal", "-shm"] {
        let beside = PathBuf::from(format!("{}{name}", place.display()));
        if beside.exists() {
            return Err(BackupError::Taken(beside.display().to_string()));
        }
    }
    let part = Part::beside(place)?;
    seal::opened(file, seal::whole(file)?, &part.0)?;
    let db = connect(&address_of(&part.0)).await?;
    migrate(&db).await?;
    let entry = restored(clock, contents);
    write::<_, StoreError, _>(&db, async |tx| backup::mark_restored(tx, entry.clone()).await).await?;
    still_follows(&db, contents).await?;
    db.close().await?;
    part.becomes(place)
}

async fn restore_rows(file: &Path, url: &str, clock: &Clock, contents: &Contents) -> Result<(), BackupError> {
    let to = connect(url).await?;
    // Before the tables are brought up to date: what is refused stays as it is, for the program that made it.
    if holds_rows(&to).await? {
        return Err(BackupError::Taken("the database".to_owned()));
    }
    // Its tables may be an older program's: they are brought up to date in a copy.
    let folder = std::env::temp_dir();
    let part = Part::beside(&folder.join(format!("sootmark-restore-{}.sqlite", std::process::id())))?;
    seal::opened(file, seal::whole(file)?, &part.0)?;
    let copy = connect(&address_of(&part.0)).await?;
    migrate(&copy).await?;
    migrate(&to).await?;
    let entry = restored(clock, contents);
    backup::carry_into::<BackupError, _>(&copy, &to, async |tx| {
        backup::mark_restored(tx, entry.clone()).await?;
        let damage = damage(tx).await?;
        if !damage.is_empty() {
            return Err(BackupError::NotWhole(damage));
        }
        let found = check_record(tx, std::slice::from_ref(&contents.head)).await?;
        if found.is_whole() { Ok(()) } else { Err(BackupError::NotWhole(faults_of(&found))) }
    })
    .await?;
    copy.close().await.map_err(BackupError::from)?;
    to.close().await.map_err(BackupError::from)
}

fn restored(clock: &Clock, contents: &Contents) -> crate::store::record::NewEntry {
    let detail = json!({ "head": contents.head, "entries": contents.amount.entries });
    about_database(clock.now(), "database_restored", detail)
}

/// What was put back still has the backup's end of the chain in it.
async fn still_follows(db: &Db, contents: &Contents) -> Result<(), BackupError> {
    let found = check_record(db, std::slice::from_ref(&contents.head)).await?;
    if found.is_whole() { Ok(()) } else { Err(BackupError::NotWhole(faults_of(&found))) }
}

fn faults_of(found: &super::check_record::RecordChecked) -> Vec<String> {
    let chain = match &found.chain {
        Verification::Whole { .. } => None,
        broken => Some(format!("the record's chain: {broken:?}")),
    };
    chain.into_iter().chain(found.faults.iter().map(ToString::to_string)).collect()
}

async fn looked_into(file: &Path) -> Result<Contents, BackupError> {
    let length = seal::whole(file)?;
    let no_backup = |cause: String| BackupError::NoBackup { file: file.to_owned(), cause };
    let (db, lacks) = connect_to_read_older(&address_of(file)).await.map_err(|error| match error {
        newer @ ConnectError::Newer(_) => BackupError::from(newer),
        other => no_backup(other.to_string()),
    })?;
    let damage = damage(&db).await.map_err(|error| no_backup(error.to_string()))?;
    if !damage.is_empty() {
        return Err(no_backup(damage.join("; ")));
    }
    let contents = if lacks == 0 {
        contents_of(&db).await
    } else {
        // The checks know today's tables: an older program's copy is brought up to date in a copy of its own.
        let part = Part::beside(file)?;
        seal::opened(file, length, &part.0)?;
        let newer = connect(&address_of(&part.0)).await?;
        migrate(&newer).await.map_err(|error| no_backup(error.to_string()))?;
        let contents = contents_of(&newer).await;
        newer.close().await?;
        contents
    };
    db.close().await?;
    contents.map_err(|error| match error {
        BackupError::Copy(error) => no_backup(error.to_string()),
        other => other,
    })
}

async fn contents_of(db: &Db) -> Result<Contents, BackupError> {
    let found = check_record(db, &[]).await?;
    let Verification::Whole { last_hash, .. } = &found.chain else {
        return Err(BackupError::NotWhole(faults_of(&found)));
    };
    if !found.is_whole() {
        return Err(BackupError::NotWhole(faults_of(&found)));
    }
    Ok(Contents { amount: amount(db).await?, head: last_hash.clone(), graded_again: found.concluded })
}

/// A file that is being made. It goes when this goes, unless it became what it was to be.
struct Part(PathBuf);

impl Part {
    /// An empty one in the same folder, which only its owner can read.
    fn beside(file: &Path) -> Result<Self, BackupError> {
        let part = PathBuf::from(format!("{}.part-{}", file.display(), std::process::id()));
        OpenOptions::new().write(true).create_new(true).mode(0o600).open(&part).map_err(at(&part))?;
        Ok(Self(part))
    }

    /// Gives it its name, once every byte is on the disk.
    fn becomes(self, file: &Path) -> Result<(), BackupError> {
        File::open(&self.0).and_then(|open| open.sync_all()).map_err(at(&self.0))?;
        // Unlike a renaming, a second name never takes the place of a file that came meanwhile; the first one then goes.
        std::fs::hard_link(&self.0, file).map_err(at(file))?;
        let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        File::open(folder).and_then(|open| open.sync_all()).map_err(at(folder))
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        for name in ["", "-wal", "-shm", "-journal"] {
            let _ = std::fs::remove_file(format!("{}{name}", self.0.display()));
        }
    }
}

fn at(file: &Path) -> impl Fn(io::Error) -> BackupError + '_ {
    |cause| BackupError::File { file: file.to_owned(), cause }
}
