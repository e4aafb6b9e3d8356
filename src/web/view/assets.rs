//! Stylesheets, scripts, fonts and signs, served under an address that changes when their content does.
//!
//! Holds everything in the program itself; never reads a folder and never fetches from elsewhere.

use super::TEMPLATES;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::OnceLock;

/// What a browser may do with an asset: keep it for good, since a changed asset has another address.
pub const CACHE_CONTROL: &str = "public, max-age=31536000, immutable";

/// First 16 hex digits of the SHA-256 over every asset's name and content.
pub fn hash() -> &'static str {
    static HASH: OnceLock<String> = OnceLock::new();
    HASH.get_or_init(|| {
        let mut files: Vec<_> = folder().collect();
        files.sort_by_key(|file| file.path());
        let mut digest = Sha256::new();
        for file in files {
            digest.update(file.path().to_string_lossy().as_bytes());
            digest.update((file.contents().len() as u64).to_le_bytes());
            digest.update(file.contents());
        }
        digest.finalize()[..8].iter().fold(String::new(), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        })
    })
}

/// Where a page finds an asset; `None` when there is none of that name. Every page asks for several: written once.
#[must_use]
pub fn address(name: &str) -> Option<&'static str> {
    static ADDRESSES: OnceLock<BTreeMap<&str, String>> = OnceLock::new();
    let all =
        || names().filter(|name| media_type(name).is_some()).map(|name| (name, format!("/assets/{}/{name}", hash())));
    ADDRESSES.get_or_init(|| all().collect()).get(name).map(String::as_str)
}

/// The content and media type of `/assets/<hash>/<name>`.
#[must_use]
pub fn find(wanted: &str, name: &str) -> Option<(&'static [u8], &'static str)> {
    if wanted != hash() {
        return None;
    }
    let file = folder().find(|file| file.path().file_name().is_some_and(|own| own == name))?;
    Some((file.contents(), media_type(name)?))
}

/// The names of all assets.
pub fn names() -> impl Iterator<Item = &'static str> {
    folder().filter_map(|file| file.path().file_name()?.to_str())
}

fn folder() -> impl Iterator<Item = &'static include_dir::File<'static>> {
    TEMPLATES.get_dir("assets").into_iter().flat_map(|folder| folder.files())
}

fn media_type(name: &str) -> Option<&'static str> {
    Some(match name.rsplit_once('.')?.1 {
        "css" => "text/css; charset=utf-8",
        "js" => "text/javascript; charset=utf-8",
        "svg" => "image/svg+xml; charset=utf-8",
        "woff2" => "font/woff2",
        "txt" => "text/plain; charset=utf-8",
        _ => return None,
    })
}
