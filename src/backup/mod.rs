//! Backups: the whole database in one file of our own form, made while the program serves, and back into an empty place of
//! either kind.
//!
//! No file is called a backup before it was restored once, into a database that is thrown away, and every row came back the
//! same. Never overwrites, never restores over anything, and deletes only files that it named itself.

mod file;
mod make;
mod place;
mod restore;
pub mod schedule;

pub use file::Backup;
pub use make::{Made, make};
pub use restore::restore;
pub(crate) use place::sqlite_file;

use crate::store::dump::Contents;
use crate::store::{ConnectError, StoreError};
use std::path::{Path, PathBuf};

/// What a backup holds, for whoever made it or restores it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Held {
    /// The rows, by table, and where the record ends.
    pub contents: Contents,
    /// The steps that its tables had taken, oldest first.
    pub steps: Vec<String>,
    /// When it was made, in microseconds since 1970.
    pub made_at: i64,
}

impl Held {
    /// How many rows a table has.
    #[must_use]
    pub fn count(&self, table: &str) -> u64 {
        self.contents.rows.get(table).copied().unwrap_or_default()
    }

    /// The newest step of its tables.
    #[must_use]
    pub fn schema(&self) -> &str {
        self.steps.last().map_or("none", String::as_str)
    }
}

/// Why there is no backup, or nothing was restored.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// A file is in the way.
    #[error("{0} is there already, and nothing is overwritten; name another file, or move that one away")]
    Exists(PathBuf),
    /// A file or folder cannot be used.
    #[error("{0}: {1}")]
    File(PathBuf, #[source] std::io::Error),
    /// It is something else.
    #[error("{0} is no backup that this program made, or its beginning is damaged")]
    NoBackup(PathBuf),
    /// It is of a newer form or has newer tables.
    #[error("{0} was made by a newer Sootmark; restore it with that one")]
    Newer(PathBuf),
    /// Its tables took steps that this program knows in another order.
    #[error("{0} was made by a Sootmark between two releases; restore it with that one")]
    OtherSteps(PathBuf),
    /// Bytes were changed or are missing.
    #[error("{0} is damaged or cut short: {1}. Nothing was made of it; take another backup")]
    Damaged(PathBuf, String),
    /// There is something where it would be restored to.
    #[error("{0}: there is something already; a backup is restored into an empty place only")]
    NotEmpty(String),
    /// What was written does not come back as it was.
    #[error("the backup could not be verified and was not kept: {0}")]
    Unverified(String),
    /// The database itself is damaged.
    #[error(
        "the database is damaged, no backup was made of it: {0}. Keep it as it is, and restore the last good backup elsewhere"
    )]
    Unsound(String),
    /// The database cannot be opened.
    #[error(transparent)]
    Connect(#[from] ConnectError),
    /// The database does not do it.
    #[error(transparent)]
    Store(#[from] StoreError),
}

impl BackupError {
    fn file(path: &Path) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.to_owned();
        |error| Self::File(path, error)
    }
}
