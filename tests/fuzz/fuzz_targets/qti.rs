//! Any bytes as a package of questions, and any text as a file of one: drafts and findings come out, and no draft holds what a
//! stranger could decide an answer with.
//!
//! Never says whether a draft is a good one; `tests/exchange` does.

#![no_main]

use exchange::import::{Imported, import};
use exchange::packed;
use libfuzzer_sys::fuzz_target;
use sootmark_domain as domain;

// The files themselves, so that a fuzzer is built without server and database.
#[path = "../../../src/exchange"]
#[allow(dead_code, unused_imports, reason = "what writes packages is not tried here")]
mod exchange {
    mod archive;
    pub(super) mod import;
    mod xml;

    const ITEMS: &str = "http://www.imsglobal.org/xsd/imsqtiasi_v3p0";
    const MANIFEST_FILE: &str = "imsmanifest.xml";
    const ITEM_TYPE: &str = "imsqti_item_xmlv3p0";
    const TEST_TYPE: &str = "imsqti_test_xmlv3p0";

    /// A package that no checksum refuses, so that its XML is what is tried.
    pub(super) fn packed(manifest: &str, question: &str) -> Vec<u8> {
        let files = [(MANIFEST_FILE, manifest), ("q.xml", question)];
        archive::pack(&files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()))).expect("a package")
    }
}

const MANIFEST: &str = "<manifest xmlns=\"http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1\"><resources>\
    <resource type=\"imsqti_item_xmlv3p0\" href=\"q.xml\"/></resources></manifest>";

fn holds(imported: &Imported) {
    for draft in &imported.drafts {
        let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || "-_".contains(c);
        assert!(!draft.name.is_empty() && draft.name.len() <= 100 && draft.name.chars().all(plain), "{}", draft.name);
        assert!(draft.text.len() <= 64 * 1024);
        let lines = || draft.text.lines().map(str::trim);
        let headings: Vec<&str> = lines().filter(|line| line.starts_with('[')).collect();
        assert!(headings.starts_with(&["[situation]", "[story]", "[question]", "[answer]"]), "{headings:?}");
        assert!(headings[4..].iter().all(|heading| *heading == "[option]"), "{headings:?}");
        let decides = |line: &&str| ["right if", "rank", "key"].iter().any(|word| line.starts_with(word));
        let open = |line: &str| ["right if:", "rank =", "key ="].contains(&line);
        assert!(lines().skip_while(|line| *line != "[answer]").filter(decides).all(open), "{}", draft.text);
    }
    for problem in &imported.problems {
        assert!(!problem.message.is_empty() && !problem.to_string().contains('\n'), "{problem}");
    }
}

fuzz_target!(|bytes: &[u8]| {
    holds(&import(bytes));
    if let Ok(text) = std::str::from_utf8(bytes) {
        holds(&import(&packed(MANIFEST, text)));
        holds(&import(&packed(text, "<a/>")));
    }
});
