//! `sootmark bank export-qti` and `sootmark bank import-qti`: from the bank to a package, to drafts, to what is left open.

use super::seen;
use std::path::Path;

/// What somebody sees; where the folder happens to lie is no part of what is expected.
fn seen_in(folder: &Path, arguments: &[&str]) -> String {
    let folder = folder.to_str().expect("UTF-8");
    let with: Vec<String> = arguments.iter().map(|each| each.replace("HERE", folder)).collect();
    seen(&with.iter().map(String::as_str).collect::<Vec<_>>(), "").replace(folder, "HERE")
}

const EXPORT: [&str; 6] = ["bank", "export-qti", "--out", "HERE/p.zip", "--machine", "tarrel-60"];
const STRAW: &str = "fire/straw-under-the-boom";

#[test]
fn scenarios_go_out_and_come_in_as_drafts_that_the_check_calls_unfinished() {
    let folder = tempfile::tempdir().expect("a folder");
    let here = folder.path();
    let told =
        seen_in(here, &[&EXPORT[..], &["--seed", "7", "--count", "2", STRAW, "bands/room-to-the-stop-level"]].concat());
    assert_eq!(told, "HERE/p.zip: 2 forms, 2 questions each.\n--- stderr\n--- exit 0");
    let first = std::fs::read(here.join("p.zip")).expect("the package");
    seen_in(here, &[&EXPORT[..], &["--seed", "7", "--count", "2", STRAW, "bands/room-to-the-stop-level"]].concat());
    assert!(std::fs::read(here.join("p.zip")).expect("the package") == first, "the same command, the same bytes");

    let bank = here.join("bank");
    for (name, text) in [
        ("competences.toml", include_str!("../../question-bank/competences.toml")),
        ("machines/tarrel-60.toml", include_str!("../../question-bank/machines/tarrel-60.toml")),
    ] {
        std::fs::create_dir_all(bank.join(name).parent().expect("a folder")).expect("a folder");
        std::fs::write(bank.join(name), text).expect("a file");
    }
    let import = ["bank", "import-qti", "HERE/p.zip", "--out", "HERE/bank/templates/drafts"];
    insta::assert_snapshot!("import", seen_in(here, &import));
    insta::assert_snapshot!("check_of_drafts", seen_in(here, &["bank", "check", "HERE/bank", "--seeds", "2"]));
    let again = seen_in(here, &import);
    assert!(again.contains("drafts/fire-straw-under-the-boom-tarrel-60-7.scenario is there already"), "{again}");
    assert!(again.ends_with("--- exit 1"), "{again}");
}

#[test]
fn a_wrong_name_is_answered_with_what_there_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let export = |more: &[&str]| seen_in(folder.path(), &[&EXPORT[..4], more].concat());
    let told = export(&["--machine", "tarrel-61"]);
    assert!(
        told.contains("--machine tarrel-61: there is no such machine; known are hobrek-40, lunnock-9, tarrel-60"),
        "{told}"
    );
    let told = export(&["--machine", "tarrel-60", "fire/strow-under-the-boom"]);
    assert!(
        told.contains(
            "there is no scenario fire/strow-under-the-boom in order; did you mean fire/straw-under-the-boom?"
        ),
        "{told}"
    );
    let told =
        seen_in(folder.path(), &["bank", "export-qti", "--out", "HERE/no/p.zip", "--machine", "tarrel-60", STRAW]);
    assert!(told.contains("Sootmark: --out HERE/no/p.zip: ") && told.ends_with("--- exit 1"), "{told}");
    assert!(!folder.path().join("p.zip").exists(), "nothing is written when something is wrong");
    let told = seen_in(folder.path(), &["bank", "import-qti", "HERE/gone.zip", "--out", "HERE/drafts"]);
    assert!(told.contains("Sootmark: HERE/gone.zip: ") && told.ends_with("--- exit 1"), "{told}");
    std::fs::write(folder.path().join("p.zip"), "no package").expect("a file");
    let told = seen_in(folder.path(), &["bank", "import-qti", "HERE/p.zip", "--out", "HERE/drafts"]);
    assert!(told.starts_with("HERE/p.zip:0: zip: this is no zip file") && told.ends_with("--- exit 1"), "{told}");
    assert!(!folder.path().join("drafts").exists(), "no folder for no draft");
}
