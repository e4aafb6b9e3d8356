//! From a database that may be served meanwhile into a file, as it stood at one moment.

use super::file::{Beginning, End, RowsDigest, Writer};
use super::place::{Unfinished, with_end};
use super::restore::fill_file;
use super::{Backup, BackupError, Held};
use crate::domain::units::Moment;
use crate::store::{Db, connect_to_read, dump};
use std::fs::File;
use std::path::Path;

/// A backup that was made and verified.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Made {
    /// What it holds.
    pub held: Held,
    /// How many bytes the file has.
    pub bytes: u64,
}

/// Makes a backup of the database of an address, restores it once beside the file into a database that is thrown away, and
/// only then gives the file its name.
///
/// # Errors
/// When there is such a file, the database does not answer or is damaged, the disk is full, or the file could not be verified.
pub async fn make(url: &str, path: &Path, now: Moment) -> Result<Made, BackupError> {
    if path.exists() {
        return Err(BackupError::Exists(path.to_owned()));
    }
    let (part, file) = Unfinished::new(with_end(path, ".part"))?;
    let db = connect_to_read(url).await?;
    let written = write(&db, file, part.path(), now).await;
    db.close().await?;
    written?;
    let backup = Backup::open(part.path())?;
    let (checking, _) = Unfinished::new(with_end(path, ".checking"))?;
    fill_file(&backup, checking.path()).await.map_err(|cause| BackupError::Unverified(cause.to_string()))?;
    drop(checking);
    let bytes = std::fs::metadata(part.path()).map_err(BackupError::file(part.path()))?.len();
    part.name(path)?;
    Ok(Made { held: backup.held(), bytes })
}

async fn write(db: &Db, file: File, path: &Path, now: Moment) -> Result<(), BackupError> {
    let failed = || BackupError::file(path);
    let snapshot = db.snapshot().await?;
    let unsound = dump::is_sound(&snapshot).await?;
    if !unsound.is_empty() {
        return Err(BackupError::Unsound(unsound.join("; ")));
    }
    let program = env!("CARGO_PKG_VERSION").to_owned();
    let beginning = Beginning { made_at: now.0, program, steps: dump::steps(&snapshot).await? };
    let mut writer = Writer::begin(file, &beginning).map_err(failed())?;
    let mut digest = RowsDigest::default();
    let contents = dump::write_out::<BackupError>(&snapshot, |line| {
        digest.add(line);
        writer.line(line).map_err(failed())
    });
    let end = End { contents: contents.await?, rows_sha256: digest.end() };
    writer.end(&end).map_err(failed())
}
