//! The form of a backup: a line that says what it is, lines of JSON packed with gzip, and the SHA-256 of all before it.
//!
//! The packed lines: one about the backup; for each table one with its columns and one for each row; one about the end, with
//! the counts and the SHA-256 of the lines of the rows. Never reads a row before every byte of the file was checked.

use super::{BackupError, Held};
use crate::store::dump::Contents;
use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{BufRead, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// The first line of every backup.
const FIRST_LINE: &[u8] = b"sootmark backup 1\n";
/// What the first line of every form of a backup begins with.
const ANY_FORM: &[u8] = b"sootmark backup ";
/// How long a SHA-256 is.
const DIGEST: u64 = 32;

/// What stands before the rows.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Beginning {
    pub(super) made_at: i64,
    pub(super) program: String,
    pub(super) steps: Vec<String>,
}

/// What stands after the rows.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct End {
    #[serde(flatten)]
    pub(super) contents: Contents,
    pub(super) rows_sha256: String,
}

/// The SHA-256 of the lines of the rows, as they are taken.
#[derive(Default)]
pub(super) struct RowsDigest(Sha256);

impl RowsDigest {
    pub(super) fn add(&mut self, line: &str) {
        self.0.update(line.as_bytes());
        self.0.update(b"\n");
    }

    pub(super) fn end(self) -> String {
        self.0.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

/// Writes bytes on, and keeps the SHA-256 of all of them.
struct Digested {
    inner: BufWriter<File>,
    hash: Sha256,
}

impl Write for Digested {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let taken = self.inner.write(bytes)?;
        self.hash.update(&bytes[..taken]);
        Ok(taken)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.inner.flush()
    }
}

/// A backup that is being written.
pub(super) struct Writer(GzEncoder<Digested>);

impl Writer {
    pub(super) fn begin(file: File, beginning: &Beginning) -> std::io::Result<Self> {
        let mut inner = Digested { inner: BufWriter::new(file), hash: Sha256::new() };
        inner.write_all(FIRST_LINE)?;
        let mut writer = Self(GzEncoder::new(inner, Compression::fast()));
        writer.line(&serde_json::to_string(beginning)?)?;
        Ok(writer)
    }

    pub(super) fn line(&mut self, line: &str) -> std::io::Result<()> {
        self.0.write_all(line.as_bytes())?;
        self.0.write_all(b"\n")
    }

    /// Ends the file and comes back when the disk has it.
    pub(super) fn end(mut self, end: &End) -> std::io::Result<()> {
        self.line(&serde_json::to_string(end)?)?;
        let Digested { mut inner, hash } = self.0.finish()?;
        inner.write_all(&hash.finalize())?;
        inner.into_inner().map_err(std::io::IntoInnerError::into_error)?.sync_all()
    }
}

/// A backup of which every byte was checked.
pub struct Backup {
    path: PathBuf,
    packed: u64,
    beginning: Beginning,
    end: End,
}

/// What a line between the first and the last is.
pub(super) enum Line {
    /// The rows that follow are of this table, with these columns.
    Table(String, Vec<String>),
    /// A row.
    Row(Vec<Value>),
}

impl Backup {
    /// Opens a file, and checks every byte and every line of it.
    ///
    /// # Errors
    /// When it is no backup, is damaged, or cannot be read.
    pub fn open(path: &Path) -> Result<Self, BackupError> {
        let packed = whole(path)?;
        let damaged = |what: &str| BackupError::Damaged(path.to_owned(), what.to_owned());
        let mut lines = unpacked(path, packed)?;
        let beginning = lines.next().and_then(Result::ok).and_then(|line| serde_json::from_str(&line).ok());
        let beginning: Beginning = beginning.ok_or_else(|| damaged("it says nothing about itself"))?;
        let (mut digest, mut last) = (RowsDigest::default(), None::<String>);
        for line in lines {
            let line = line.map_err(|error| damaged(&error.to_string()))?;
            if let Some(row) = last.replace(line) {
                digest.add(&row);
            }
        }
        let end = last.and_then(|line| serde_json::from_str(&line).ok());
        let end: End = end.ok_or_else(|| damaged("its end is missing"))?;
        if end.rows_sha256 != digest.end() {
            return Err(damaged("its rows are not those that were written"));
        }
        Ok(Self { path: path.to_owned(), packed, beginning, end })
    }

    /// What it holds.
    #[must_use]
    pub fn held(&self) -> Held {
        Held {
            contents: self.end.contents.clone(),
            steps: self.beginning.steps.clone(),
            made_at: self.beginning.made_at,
        }
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    pub(super) fn end(&self) -> &End {
        &self.end
    }

    /// Its tables and rows.
    pub(super) fn lines(&self) -> Result<impl Iterator<Item = Result<Line, BackupError>> + use<'_>, BackupError> {
        let is_end = |line: &String| line.starts_with('{') && !line.contains("\"table\":");
        let lines = unpacked(&self.path, self.packed)?.skip(1);
        Ok(lines.map_while(move |line| match line {
            Ok(line) if is_end(&line) => None,
            Ok(line) => Some(read(&line).ok_or_else(|| self.damaged("a line is no row".to_owned()))),
            Err(error) => Some(Err(self.damaged(error.to_string()))),
        }))
    }

    fn damaged(&self, what: String) -> BackupError {
        BackupError::Damaged(self.path.clone(), what)
    }
}

fn read(line: &str) -> Option<Line> {
    #[derive(Deserialize)]
    struct Heading {
        table: String,
        columns: Vec<String>,
    }
    if line.starts_with('[') {
        return serde_json::from_str(line).ok().map(Line::Row);
    }
    serde_json::from_str(line).ok().map(|Heading { table, columns }| Line::Table(table, columns))
}

/// Reads the whole file once and holds it against its SHA-256; gives how many bytes of it are packed lines.
fn whole(path: &Path) -> Result<u64, BackupError> {
    let failed = || BackupError::file(path);
    let mut file = File::open(path).map_err(failed())?;
    let size = file.metadata().map_err(failed())?.len();
    let mut first = Vec::new();
    Read::by_ref(&mut file).take(FIRST_LINE.len() as u64).read_to_end(&mut first).map_err(failed())?;
    if first != FIRST_LINE {
        let newer =
            first.starts_with(ANY_FORM) && first[ANY_FORM.len()..].iter().all(|byte| b"0123456789\n".contains(byte));
        let path = path.to_owned();
        return Err(if newer { BackupError::Newer(path) } else { BackupError::NoBackup(path) });
    }
    let damaged = |what: &str| BackupError::Damaged(path.to_owned(), what.to_owned());
    let packed = size.checked_sub(FIRST_LINE.len() as u64 + DIGEST).ok_or_else(|| damaged("it is too short"))?;
    let mut hash = Sha256::new();
    hash.update(FIRST_LINE);
    let mut rest = Read::by_ref(&mut file).take(packed);
    let mut piece = vec![0_u8; 64 * 1024];
    loop {
        let read = rest.read(&mut piece).map_err(failed())?;
        if read == 0 {
            break;
        }
        hash.update(&piece[..read]);
    }
    let mut written = Vec::new();
    file.read_to_end(&mut written).map_err(failed())?;
    if written[..] != hash.finalize()[..] {
        return Err(damaged("its bytes are not those that were written"));
    }
    Ok(packed)
}

fn unpacked(path: &Path, packed: u64) -> Result<impl Iterator<Item = std::io::Result<String>> + use<>, BackupError> {
    let mut file = File::open(path).map_err(BackupError::file(path))?;
    file.seek(SeekFrom::Start(FIRST_LINE.len() as u64)).map_err(BackupError::file(path))?;
    Ok(BufReader::new(GzDecoder::new(BufReader::new(file.take(packed)))).lines())
}
