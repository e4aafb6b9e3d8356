//! The last line of a backup: the SHA-256 of every byte before it, so that a byte that changed anywhere is seen, also in a
//! name or a password's hash, which neither the database's own checks nor the record's chain would miss.
//!
//! SQLite itself reads past it: the pages that count are numbered in the file's head.

use super::{BackupError, at};
use sha2::{Digest, Sha256};
use std::fs::{File, OpenOptions};
use std::io::{Read, Write as _};
use std::path::Path;

/// What the last line says before the 64 digits.
const SAYS: &str = "\nSootmark backup. SHA-256 of all before this line: ";
/// How long the last line is.
const LENGTH: u64 = SAYS.len() as u64 + 64 + 1;

/// Puts the last line on a file that is finished.
pub(super) fn close(file: &Path) -> Result<(), BackupError> {
    let length = std::fs::metadata(file).map_err(at(file))?.len();
    let line = line_for(file, length)?;
    let mut open = OpenOptions::new().append(true).open(file).map_err(at(file))?;
    open.write_all(line.as_bytes()).map_err(at(file))
}

/// Holds every byte against the last line; gives how many stand before it.
pub(super) fn whole(file: &Path) -> Result<u64, BackupError> {
    let no_backup = |cause: &str| BackupError::NoBackup { file: file.to_owned(), cause: cause.to_owned() };
    let size = File::open(file).and_then(|open| open.metadata()).map_err(at(file))?.len();
    let length = size.checked_sub(LENGTH).ok_or_else(|| no_backup("it is too short"))?;
    let mut written = Vec::new();
    let mut open = File::open(file).map_err(at(file))?;
    std::io::Seek::seek(&mut open, std::io::SeekFrom::Start(length)).map_err(at(file))?;
    open.read_to_end(&mut written).map_err(at(file))?;
    if !written.starts_with(SAYS.as_bytes()) {
        return Err(no_backup("its last line is missing"));
    }
    match written == line_for(file, length)?.as_bytes() {
        true => Ok(length),
        false => Err(no_backup("its bytes are not those that were written")),
    }
}

/// A copy of what stands before the last line, into a file that is there and empty.
pub(super) fn opened(file: &Path, length: u64, into: &Path) -> Result<(), BackupError> {
    let mut from = File::open(file).map_err(at(file))?.take(length);
    let mut to = OpenOptions::new().write(true).open(into).map_err(at(into))?;
    std::io::copy(&mut from, &mut to).map_err(at(into))?;
    Ok(())
}

fn line_for(file: &Path, length: u64) -> Result<String, BackupError> {
    let mut bytes = File::open(file).map_err(at(file))?.take(length);
    let (mut hash, mut piece) = (Sha256::new(), vec![0_u8; 64 * 1024]);
    loop {
        let read = bytes.read(&mut piece).map_err(at(file))?;
        if read == 0 {
            let digits: String = hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect();
            return Ok(format!("{SAYS}{digits}\n"));
        }
        hash.update(&piece[..read]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn file_of(bytes: &[u8]) -> tempfile::NamedTempFile {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), bytes).unwrap();
        file
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn what_was_closed_is_whole_until_any_byte_changes(
            bytes in proptest::collection::vec(any::<u8>(), 0..400), at in any::<prop::sample::Index>(), bit in 0_u8..8,
        ) {
            let file = file_of(&bytes);
            close(file.path()).unwrap();
            prop_assert_eq!(whole(file.path()).unwrap(), bytes.len() as u64);
            let into = file_of(&[]);
            opened(file.path(), bytes.len() as u64, into.path()).unwrap();
            prop_assert_eq!(std::fs::read(into.path()).unwrap(), bytes);
            let mut changed = std::fs::read(file.path()).unwrap();
            let at = at.index(changed.len());
            changed[at] ^= 1 << bit;
            prop_assert!(whole(file_of(&changed).path()).is_err());
            prop_assert!(whole(file_of(&changed[..at]).path()).is_err());
        }

        #[test]
        fn no_bytes_that_nobody_closed_are_whole(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
            prop_assert!(whole(file_of(&bytes).path()).is_err());
            let said = [&bytes[..], SAYS.as_bytes(), &[b'0'; 64], b"\n"].concat();
            prop_assert!(whole(file_of(&said).path()).is_err());
        }
    }
}
