//! The package as a zip file: writing the same bytes for the same texts, and reading one that a stranger has made.
//!
//! Reading unpacks nothing but XML, into memory, within limits; no name in a package is ever a place on the disk.

use crate::domain::document::Problem;
use std::collections::BTreeMap;
use std::io::{Cursor, Read as _, Write as _};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

/// Largest package in bytes; chosen by us, some hundred times a large form of this program.
const LARGEST_PACKAGE: usize = 16 * 1024 * 1024;
/// Most files in a package; chosen by us.
const MOST_FILES: usize = 5_000;
/// Largest XML file in bytes, unpacked; chosen by us: a question is text.
const LARGEST_FILE: u64 = 1024 * 1024;
/// Most bytes of XML in all, unpacked; chosen by us.
const MOST_UNPACKED: u64 = 32 * 1024 * 1024;
/// Longest name of a file in bytes; chosen by us.
const LONGEST_NAME: usize = 240;

/// What problems call the package itself: no file of it.
pub(super) const WHOLE: &str = "";

/// Packs texts under their names, in the order given. Nothing is compressed and every time is the same, so that equal
/// texts give equal bytes whatever library or clock is at work.
pub(super) fn pack(files: &[(String, Vec<u8>)]) -> std::io::Result<Vec<u8>> {
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Stored)
        .last_modified_time(DateTime::DEFAULT)
        .unix_permissions(0o644);
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        writer.start_file(name, options)?;
        writer.write_all(bytes)?;
    }
    Ok(writer.finish()?.into_inner())
}

/// What a package holds.
#[derive(Debug, Default)]
pub(super) struct Unpacked {
    /// The XML files by their names.
    pub(super) texts: BTreeMap<String, String>,
    /// Names of XML files that stand in the package and could not be read; each has its problem.
    pub(super) unread: Vec<String>,
    /// Names of all other files.
    pub(super) others: Vec<String>,
}

/// Unpacks the XML files of a package and notes the others.
pub(super) fn unpack(bytes: &[u8], problems: &mut Vec<Problem>) -> Unpacked {
    let mut unpacked = Unpacked::default();
    let mut whole = |message: String| problems.push(Problem::new(WHOLE, 0, "zip", message));
    if bytes.len() > LARGEST_PACKAGE {
        whole(format!("a package is at most {LARGEST_PACKAGE} bytes; this has {}. Divide it", bytes.len()));
        return unpacked;
    }
    let mut archive = match ZipArchive::new(Cursor::new(bytes)) {
        Ok(archive) => archive,
        Err(error) => {
            whole(format!("this is no zip file that can be read ({error})"));
            return unpacked;
        }
    };
    if archive.len() > MOST_FILES {
        whole(format!("a package has at most {MOST_FILES} files; this has {}. Divide it", archive.len()));
        return unpacked;
    }
    let mut left = MOST_UNPACKED;
    for index in 0..archive.len() {
        if let Err((name, message)) = take(&mut archive, index, &mut left, &mut unpacked) {
            problems.push(Problem::new(name.clone(), 0, "zip", message));
            unpacked.unread.push(name);
        }
    }
    unpacked
}

/// Takes one file; otherwise its name, made safe for a message, and what is wrong.
fn take(
    archive: &mut ZipArchive<Cursor<&[u8]>>,
    index: usize,
    left: &mut u64,
    unpacked: &mut Unpacked,
) -> Result<(), (String, String)> {
    let unnamed = |index: usize| format!("file {}", index + 1);
    let entry = archive.by_index(index).map_err(|error| (unnamed(index), format!("it cannot be read ({error})")))?;
    let name = entry.name().map_err(|_| (unnamed(index), "its name cannot be read".to_owned()))?.into_owned();
    let told = name.escape_default().take(LONGEST_NAME).collect::<String>();
    let wrong = |message: &str| Err((told.clone(), message.to_owned()));
    if entry.is_dir() {
        return Ok(());
    }
    if !is_plain(&name) {
        return wrong("the name leads out of the package or is no plain path; the file is not taken");
    }
    if !entry.is_file() {
        return wrong("this is a link, not a file; it is not taken");
    }
    let xml = name.rsplit_once('.').is_some_and(|(_, ending)| ending.eq_ignore_ascii_case("xml"));
    if !xml {
        unpacked.others.push(name);
        return Ok(());
    }
    // The size that the package states is only a promise: what comes out is counted.
    let most = LARGEST_FILE.min(*left);
    let mut bytes = Vec::new();
    if let Err(error) = entry.take(most + 1).read_to_end(&mut bytes) {
        return wrong(&format!("it cannot be unpacked ({error})"));
    }
    let count = bytes.len() as u64;
    *left -= count.min(*left);
    if count > most {
        return wrong(&format!(
            "unpacked, an XML file is at most {LARGEST_FILE} bytes and all of them at most {MOST_UNPACKED}; divide the package"
        ));
    }
    match String::from_utf8(bytes) {
        Ok(text) => unpacked.texts.insert(name, text),
        Err(_) => return wrong("this is not UTF-8; save it as UTF-8"),
    };
    Ok(())
}

/// Whether a name is a path inside the package, written in the one way that has no second reading.
fn is_plain(name: &str) -> bool {
    let parts = || name.split('/');
    name.len() <= LONGEST_NAME
        && !name.contains(['\\', ':'])
        && !name.chars().any(char::is_control)
        && parts().all(|part| !part.is_empty() && part != "." && part != "..")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_plain_names_are_plain() {
        for name in ["a.xml", "items/a-1.b_c.xml", "ä/ö.xml", "..a/b..xml"] {
            assert!(is_plain(name), "{name}");
        }
        let long = "a".repeat(LONGEST_NAME + 1);
        for name in ["", "/a", "a//b", "a/", "../a", "a/../b", "./a", "a\\b", "C:a", "a\0b", "a\nb", &long] {
            assert!(!is_plain(name), "{name:?}");
        }
    }

    #[test]
    fn equal_texts_give_equal_bytes_and_come_back() {
        let files = [("b.xml".to_owned(), b"<b/>".to_vec()), ("a/a.xml".to_owned(), b"<a/>".to_vec())];
        let packed = pack(&files).unwrap();
        assert_eq!(packed, pack(&files).unwrap());
        let mut problems = Vec::new();
        let unpacked = unpack(&packed, &mut problems);
        assert_eq!(problems, []);
        let texts: Vec<_> = unpacked.texts.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
        assert_eq!(texts, [("a/a.xml", "<a/>"), ("b.xml", "<b/>")]);
    }
}
