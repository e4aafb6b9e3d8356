//! Files that a command line names; `-` is stdin.
//!
//! Never guesses an encoding: what is not UTF-8 is said, where text is wanted.

use super::Failure;
use std::io::Read as _;
use std::path::Path;

/// What messages call a file.
pub(super) fn named(file: &Path) -> String {
    if file == Path::new("-") { "stdin".to_owned() } else { file.display().to_string() }
}

/// The bytes of a file; `flag` is what the command line calls it.
pub(super) fn bytes_of(flag: &str, file: &Path) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    let read = if file == Path::new("-") {
        std::io::stdin().read_to_end(&mut bytes)
    } else {
        std::fs::File::open(file).and_then(|mut open| open.read_to_end(&mut bytes))
    };
    read.map_err(|error| format!("{flag} {}: {error}", named(file)))?;
    Ok(bytes)
}

/// The text of a file.
pub(super) fn text_of(flag: &str, file: &Path) -> Result<String, Failure> {
    String::from_utf8(bytes_of(flag, file)?)
        .map_err(|_| format!("{flag} {}: is not UTF-8. Save it as UTF-8.", named(file)).into())
}
