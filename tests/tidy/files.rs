//! Each Rust file says what it is for, and none is too long to be read in one sitting.

use super::{File, none, one, planted, rust};

fn without_header(files: &[File]) -> Vec<String> {
    let bare = files.iter().filter(|file| !file.text.starts_with("//! "));
    bare.map(|file| format!("{}: begins without a //! header that says what it is for", file.path)).collect()
}

#[test]
fn every_file_says_what_it_is_for() {
    none(&without_header(&rust()));
}

#[test]
fn a_file_without_header_is_found() {
    one(&without_header(&planted("src/a.rs", "use std::fmt;\n")), "src/a.rs");
}

/// Lines from which a file must explain itself below, and lines that nothing excuses.
const EXPLAIN_PAST: usize = 400;
const NEVER_PAST: usize = 600;

/// Files past the first limit, each with its reason.
const EXPLAINED: [(&str, &str); 2] = [
    (
        "src/domain/aftertreatment/rules.rs",
        "one table: the rules, what they compare, and nothing between them to cut at",
    ),
    ("src/domain/scenario/template_reader.rs", "one walk through a scenario, section by section, as trainers write it"),
];

fn too_long(files: &[File], explained: &[(&str, &str)]) -> Vec<String> {
    let mut breaches = Vec::new();
    for file in files {
        let lines = file.text.lines().count();
        let excused = explained.iter().any(|(path, reason)| *path == file.path && !reason.is_empty());
        if lines > NEVER_PAST {
            breaches.push(format!("{}: {lines} lines; divide it, nothing excuses more than {NEVER_PAST}", file.path));
        } else if lines > EXPLAIN_PAST && !excused {
            breaches
                .push(format!("{}: {lines} lines; divide it, or give the reason in tests/tidy/files.rs", file.path));
        }
    }
    for (path, _) in explained {
        let still = files.iter().any(|file| file.path == *path && file.text.lines().count() > EXPLAIN_PAST);
        if !still {
            breaches.push(format!("{path}: is not past {EXPLAIN_PAST} lines any more; take its reason out"));
        }
    }
    breaches
}

#[test]
fn every_file_can_be_read_in_one_sitting() {
    none(&too_long(&rust(), &EXPLAINED));
}

#[test]
fn long_files_and_stale_reasons_are_found() {
    let lines = |count: usize| planted("src/a.rs", &"x\n".repeat(count));
    none(&too_long(&lines(EXPLAIN_PAST), &[]));
    one(&too_long(&lines(EXPLAIN_PAST + 1), &[]), "give the reason");
    none(&too_long(&lines(EXPLAIN_PAST + 1), &[("src/a.rs", "because")]));
    one(&too_long(&lines(EXPLAIN_PAST + 1), &[("src/a.rs", "")]), "give the reason");
    one(&too_long(&lines(NEVER_PAST + 1), &[("src/a.rs", "because")]), "nothing excuses");
    one(&too_long(&lines(1), &[("src/a.rs", "because")]), "take its reason out");
}
