//! What stands at the top level, and that every Rust file is part of the program or of its tests.

use super::code::bare;
use super::{File, none, one, planted, rust};
use std::path::Path;

/// What belongs there; besides these: dotfiles, and what `.gitignore` names.
const BELONGS: [&str; 12] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "clippy.toml",
    "migrations",
    "question-bank",
    "rustfmt.toml",
    "src",
    "templates",
    "tests",
];

fn strangers_and_missing(names: &[String]) -> Vec<String> {
    let strange = names.iter().filter(|name| !BELONGS.contains(&name.as_str()));
    let missing = BELONGS.iter().filter(|name| !names.iter().any(|there| there == *name));
    strange
        .map(|name| format!("{name} does not belong at the top level"))
        .chain(missing.map(|name| format!("{name} is missing at the top level")))
        .collect()
}

#[test]
fn the_top_level_is_as_designed() {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let ignored = std::fs::read_to_string(top.join(".gitignore")).expect("a .gitignore");
    let names: Vec<String> = std::fs::read_dir(top)
        .expect("a folder")
        .map(|entry| entry.expect("an entry").file_name().into_string().expect("UTF-8"))
        .filter(|name| !name.starts_with('.') && !ignored.lines().any(|line| line == format!("/{name}")))
        .collect();
    none(&strangers_and_missing(&names));
}

#[test]
fn a_stranger_and_a_gap_at_the_top_level_are_found() {
    let mut names: Vec<String> = BELONGS.iter().map(|name| (*name).to_owned()).collect();
    names.push("scripts".to_owned());
    one(&strangers_and_missing(&names), "scripts does not belong");
    names.retain(|name| name != "scripts" && name != "LICENSE");
    one(&strangers_and_missing(&names), "LICENSE is missing");
}

/// Files that no other file declares.
const ROOTS: [&str; 13] = [
    "migrations/lib.rs",
    "src/domain/lib.rs",
    "src/lib.rs",
    "src/main.rs",
    "tests/benches/domain.rs",
    "tests/benches/hostile.rs",
    "tests/benches/measure.rs",
    "tests/benches/sitters.rs",
    "tests/fuzz/fuzz_targets/machine_log.rs",
    "tests/fuzz/fuzz_targets/qti.rs",
    "tests/fuzz/fuzz_targets/roster.rs",
    "tests/fuzz/fuzz_targets/scenario.rs",
    "tests/whole.rs",
];

/// A file that nobody declares is not compiled: as a test it never runs, and nobody notices.
fn undeclared(files: &[File]) -> Vec<String> {
    let declared = |path: &str| {
        let stem = path.trim_end_matches(".rs").trim_end_matches("/mod");
        let Some((folder, name)) = stem.rsplit_once('/') else { return false };
        let beside =
            ["mod.rs", "lib.rs", "whole.rs", "measure.rs", "sitters.rs"].map(|root| format!("{folder}/{root}"));
        let parents = files.iter().filter(|file| beside.contains(&file.path) || file.path == format!("{folder}.rs"));
        let line = format!("mod {name};");
        let at_end = |text: &str| text.lines().any(|each| each.trim() == line || each.ends_with(&format!(" {line}")));
        parents.into_iter().any(|parent| at_end(&bare(&parent.text)))
    };
    let lost = files.iter().filter(|file| !ROOTS.contains(&file.path.as_str()) && !declared(&file.path));
    lost.map(|file| format!("{}: no file declares this module", file.path)).collect()
}

#[test]
fn every_rust_file_is_declared() {
    none(&undeclared(&rust()));
}

#[test]
fn a_test_that_would_never_run_is_found() {
    let mut files = planted("tests/whole.rs", "mod store;\n");
    files.extend(planted("tests/store/mod.rs", "//! mod lost;\nmod found;\n"));
    files.extend(planted("tests/store/found.rs", ""));
    none(&undeclared(&files));
    files.extend(planted("tests/store/lost.rs", ""));
    one(&undeclared(&files), "tests/store/lost.rs");
}
