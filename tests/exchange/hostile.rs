//! Packages that were made to do harm, or that were damaged on the way: findings, never a crash, never a foreign name.

use super::{exported, files, manifest, zipped};
use proptest::prelude::*;
use sootmark::exchange::{Imported, import};
use std::io::Cursor;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

/// What must hold for whatever comes in.
fn sound(imported: &Imported) {
    for draft in &imported.drafts {
        assert!(!draft.name.is_empty() && draft.name.len() <= 100);
        assert!(draft.name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || "-_".contains(c)));
        assert!(draft.text.len() <= 64 * 1024);
        assert!(!draft.text.chars().any(|c| c.is_control() && c != '\n'), "{:?}", draft.text);
        // Only the headings that a draft has begin a section, whatever a stranger's text says.
        let headings: Vec<&str> = draft.text.lines().map(str::trim).filter(|line| line.starts_with('[')).collect();
        assert_eq!(headings[..4], ["[situation]", "[story]", "[question]", "[answer]"], "{}", draft.text);
        assert!(headings[4..].iter().all(|heading| *heading == "[option]"), "{}", draft.text);
        // And whatever could decide an answer is open.
        for line in draft.text.lines().skip_while(|line| *line != "[answer]") {
            let decides = ["right if", "rank", "key"].iter().any(|word| line.starts_with(word));
            assert!(!decides || ["right if:", "rank =", "key ="].contains(&line), "{line}");
        }
    }
    for problem in &imported.problems {
        assert!(!problem.message.is_empty() && !problem.message.contains('\n'), "{problem}");
    }
}

fn one_problem(package: &[u8], says: &str) {
    let imported = import(package);
    sound(&imported);
    assert_eq!(imported.drafts, []);
    assert!(imported.problems.iter().any(|problem| problem.to_string().contains(says)), "{:#?}", imported.problems);
}

#[test]
fn a_name_that_leads_out_is_refused() {
    for name in ["../q.xml", "/q.xml", "a/../../q.xml", "a\\q.xml", "C:q.xml", "a//q.xml"] {
        let package = zipped(&[("imsmanifest.xml", manifest(&[name])), (name, "<a/>".to_owned())]);
        one_problem(&package, "leads out of the package");
    }
}

#[test]
fn a_link_is_refused() {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    writer.add_symlink("q.xml", "/etc/hostname", SimpleFileOptions::default()).expect("a link");
    one_problem(&writer.finish().expect("a package").into_inner(), "q.xml:0: zip: this is a link");
}

#[test]
fn what_swells_when_unpacked_is_refused() {
    let large = vec![b' '; 1024 * 1024 + 1];
    let package = zipped(&[("imsmanifest.xml", manifest(&["q.xml"]).into_bytes()), ("q.xml", large)]);
    assert!(package.len() < 10_000, "it does not look like much: {}", package.len());
    one_problem(&package, "q.xml:0: zip: unpacked, an XML file is at most 1048576 bytes");

    let one = zipped(&[("full.xml", vec![b' '; 1024 * 1024])]);
    let mut one = ZipArchive::new(Cursor::new(one)).expect("a package");
    let mut many = ZipWriter::new(Cursor::new(Vec::new()));
    for number in 0..40 {
        many.raw_copy_file_rename(one.by_index(0).expect("its file"), format!("{number}.xml")).expect("a copy");
    }
    let imported = import(&many.finish().expect("a package").into_inner());
    let refused = imported.problems.iter().filter(|problem| problem.message.starts_with("unpacked,")).count();
    assert_eq!(refused, 8, "32 MiB in all are unpacked, no more");
}

#[test]
fn too_many_files_and_too_large_a_package_are_refused() {
    let names: Vec<String> = (0..5_001).map(|number| format!("{number}.txt")).collect();
    let many: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &b""[..])).collect();
    one_problem(&zipped(&many), ":0: zip: a package has at most 5000 files; this has 5001");
    one_problem(&vec![0; 16 * 1024 * 1024 + 1], ":0: zip: a package is at most 16777216 bytes");
}

#[test]
fn what_would_take_for_ever_is_cut_short() {
    let option = |number: usize| format!("<qti-simple-choice identifier=\"o{number}\">x<img/></qti-simple-choice>");
    let item = |options: usize| {
        format!(
            "<qti-assessment-item xmlns=\"http://www.imsglobal.org/xsd/imsqtiasi_v3p0\" identifier=\"same\">\
             <qti-response-declaration identifier=\"R\" cardinality=\"single\" base-type=\"identifier\"/><qti-item-body>\
             <qti-choice-interaction response-identifier=\"R\"><qti-prompt>?</qti-prompt>{}</qti-choice-interaction>\
             </qti-item-body></qti-assessment-item>",
            (0..options).map(option).collect::<String>()
        )
    };
    let package = zipped(&[("imsmanifest.xml", manifest(&["q.xml"])), ("q.xml", item(2_000))]);
    one_problem(&package, "qti-simple-choice: there are 2000 options; 50 are the most");
    let pictures = item(1).replace("?</qti-prompt>", &format!("{}?</qti-prompt>", "<img/>\n".repeat(2_000)));
    let package = zipped(&[("imsmanifest.xml", manifest(&["q.xml"])), ("q.xml", pictures.replace(">x<", "><"))]);
    one_problem(&package, "there are 1902 findings more in this file");
    one_problem(&package, "an option has no text of its own; the question is not taken");

    let names: Vec<String> = (0..1_500).map(|number| format!("{number}.xml")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let mut files = vec![("imsmanifest.xml", manifest(&names))];
    files.extend(names.iter().map(|name| (*name, item(1).replace("<img/>", ""))));
    let imported = import(&zipped(&files));
    assert_eq!(imported.problems, []);
    assert_eq!(imported.drafts.len(), 1_500);
    assert_eq!(imported.drafts[1_499].name, "same-1500");
}

#[test]
fn what_is_no_zip_file_and_what_is_not_utf8_is_refused() {
    one_problem(b"", ":0: zip: this is no zip file");
    one_problem(b"<manifest/>", ":0: zip: this is no zip file");
    one_problem(&exported()[..4_000], ":0: zip: this is no zip file");
    one_problem(
        &zipped(&[("imsmanifest.xml", &b"\xFF\xFE<\0a\0/\0>\0"[..])]),
        "imsmanifest.xml:0: zip: this is not UTF-8",
    );
}

/// A valid package whose one question is damaged in its text, so that no checksum of the zip file catches it.
fn with_damage(text: &str, damage: &[(usize, u8, bool)]) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for (at, byte, insert) in damage {
        let at = at % bytes.len();
        if *insert { bytes.insert(at, *byte) } else { bytes[at] = *byte }
    }
    zipped(&[("imsmanifest.xml", manifest(&["q.xml"]).into_bytes()), ("q.xml", bytes)])
}

/// Pieces that mean something to a reader of XML, of QTI or of scenarios.
fn piece() -> impl Strategy<Value = String> {
    let known = [
        "<p>",
        "</p>",
        "<qti-item-body>",
        "</qti-item-body>",
        "<qti-choice-interaction response-identifier=\"RESPONSE\">",
        "</qti-choice-interaction>",
        "<qti-simple-choice identifier=\"a\">",
        "</qti-simple-choice>",
        "<qti-prompt>",
        "</qti-prompt>",
        "[option]",
        "[answer]",
        "# ",
        "right if: yes",
        "key = 1",
        "{",
        "}",
        "{{",
        "\n",
        "\r",
        "\u{2028}",
        "&#10;",
        "&amp;",
        "&lt;",
        "&#x1;",
        "<![CDATA[",
        "]]>",
        "<!--",
        "-->",
        "<qti-text-entry-interaction response-identifier=\"RESPONSE\"/>",
        "\u{FFFC}",
        "<qti-feedback-block>",
        "</qti-feedback-block>",
        "<qti-feedback-inline>",
        "</qti-feedback-inline>",
    ];
    prop_oneof![4 => prop::sample::select(known.to_vec()).prop_map(str::to_owned), 1 => "\\PC{0,6}"]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, rng_seed: prop::test_runner::RngSeed::Fixed(1), ..ProptestConfig::default() })]

    #[test]
    fn no_bytes_panic(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        sound(&import(&bytes));
        let mut tail = EXPORTED[..200].to_vec();
        tail.extend(bytes);
        sound(&import(&tail));
    }

    #[test]
    fn no_damaged_zip_panics(damage in prop::collection::vec((any::<usize>(), any::<u8>()), 1..12)) {
        let mut package = zipped(&[("imsmanifest.xml", manifest(&["q.xml"])), ("q.xml", "<a/>".to_owned())]);
        for (at, byte) in damage {
            let at = at % package.len();
            package[at] = byte;
        }
        sound(&import(&package));
    }

    #[test]
    fn no_damaged_question_panics(
        damage in prop::collection::vec((any::<usize>(), any::<u8>(), any::<bool>()), 0..8),
        which in any::<prop::sample::Index>(),
    ) {
        let items: Vec<String> = files(&EXPORTED).into_iter().filter(|(name, _)| name.starts_with("items/")).map(|(_, text)| text).collect();
        sound(&import(&with_damage(which.get::<String>(&items), &damage)));
    }

    #[test]
    fn no_question_of_pieces_panics(pieces in prop::collection::vec(piece(), 0..40)) {
        let inside = format!(
            "<qti-response-declaration identifier=\"RESPONSE\" cardinality=\"single\" base-type=\"identifier\"/>\n<qti-item-body>{}",
            pieces.concat()
        );
        sound(&import(&super::one_item(&inside)));
        sound(&import(&super::one_item(&format!("{inside}</qti-item-body>"))));
    }

    #[test]
    fn no_words_of_a_stranger_become_part_of_the_scenario(
        story in prop::collection::vec(piece(), 0..6),
        option in prop::collection::vec(piece(), 0..6),
    ) {
        let written = |pieces: &[String]| {
            pieces.concat().replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
        };
        let inside = format!(
            "<qti-response-declaration identifier=\"RESPONSE\" cardinality=\"single\" base-type=\"identifier\"/>\n<qti-item-body><p>{0}</p>\
             <qti-choice-interaction response-identifier=\"RESPONSE\"><qti-prompt>{0}</qti-prompt><qti-simple-choice identifier=\"a\">x {1}\
             </qti-simple-choice></qti-choice-interaction></qti-item-body><qti-modal-feedback identifier=\"a\">{1}</qti-modal-feedback>",
            written(&story), written(&option)
        );
        let imported = import(&super::one_item(&inside));
        sound(&imported);
        // Letters that XML does not allow make the file unreadable for others; this one may take them.
        prop_assert!(imported.drafts.len() == 1, "{:?}", imported.problems);
    }
}

static EXPORTED: std::sync::LazyLock<Vec<u8>> = std::sync::LazyLock::new(exported);
