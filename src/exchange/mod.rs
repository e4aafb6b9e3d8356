//! Questions for other systems and from them, as packages of QTI 3.0: a zip of XML files with a manifest; and what came of
//! them, as statements of xAPI 2.0 ([`xapi`]); a certificate as a signed file ([`credential`]) and on paper ([`paper`]).
//! Tables for spreadsheets ([`workbook`]) and days for calendars ([`icalendar`]).
//!
//! [`export`] writes questions and forms with their keys, explanations and cautions. [`import`] takes the plain kinds in
//! as drafts of scenarios for a trainer to finish: what a package calls right is only a remark in a draft, because here
//! the model supplies the key.
//!
//! Never opens a file, never runs what a package holds, never lets a name from a package decide where something is
//! written. What it writes is checked for structure by the project's own tests; no schema file was to be had, so it has
//! not been validated against the XSD.

mod archive;
mod export;
mod import;
mod xml;

pub mod credential;
pub mod icalendar;
pub mod paper;
pub mod workbook;
pub mod xapi;

pub use export::{Form, Package, export};
pub use import::{Draft, Imported, import};

/// The namespace of items and tests.
// Source: 1EdTech QTI 3.0, public examples.
const ITEMS: &str = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0";
/// The namespace of the manifest.
// Source: public readers and writers of QTI 3.0 packages, which agree on it.
const MANIFEST: &str = "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1";
/// Where the manifest stands.
const MANIFEST_FILE: &str = "imsmanifest.xml";
/// The manifest's word for an item.
// Source: 1EdTech QTI 3.0, public examples.
const ITEM_TYPE: &str = "imsqti_item_xmlv3p0";
/// The manifest's word for a test.
// Source: 1EdTech QTI 3.0, public examples.
const TEST_TYPE: &str = "imsqti_test_xmlv3p0";

/// Bytes in hexadecimal.
fn hexadecimal(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}
