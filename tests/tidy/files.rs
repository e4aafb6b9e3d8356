//! Each Rust file says what it is for, and none of them, and no function, is too long to be read in one sitting.

use super::code::bare;
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
const EXPLAINED: [(&str, &str); 0] = [];

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

/// Lines past which a function is divided, from its name to its last brace.
const LONGEST_FUNCTION: usize = 70;

/// Functions past that which are no code but a table, each with its reason.
const TABLES: [(&str, &str, &str); 1] =
    [("src/web/error.rs", "told", "the one exhaustive match from what went wrong to a status and its fixed wording")];

fn long_functions(files: &[File], tables: &[(&str, &str, &str)]) -> Vec<String> {
    let mut breaches = Vec::new();
    let mut seen = Vec::new();
    for file in files {
        let bare = bare(&file.text);
        for (at, _) in bare.match_indices("fn ") {
            let word = bare[..at].chars().next_back().is_none_or(|before| !before.is_alphanumeric() && before != '_');
            let lines = bare[at..end_of_body(&bare, at)].lines().count();
            if word && lines > LONGEST_FUNCTION {
                let name: String = bare[at + 3..].chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                match tables
                    .iter()
                    .find(|(path, table, reason)| *path == file.path && *table == name && !reason.is_empty())
                {
                    Some(table) => seen.push(table),
                    None => breaches.push(format!("{}: fn {name} has {lines} lines; divide it", file.path)),
                }
            }
        }
    }
    for table in tables.iter().filter(|table| !seen.contains(table)) {
        breaches.push(format!("{}: fn {} is not too long any more; take its reason out", table.0, table.1));
    }
    breaches
}

/// Where the function that is named here has ended: after its last brace, or at once when it has no body.
fn end_of_body(bare: &str, at: usize) -> usize {
    let (mut depth, mut brackets) = (0_u32, 0_u32);
    for (ahead, letter) in bare[at..].char_indices() {
        match letter {
            // The one in `[u8; 32]` ends nothing.
            ';' if depth == 0 && brackets == 0 => return at + ahead,
            '[' => brackets += 1,
            ']' => brackets = brackets.saturating_sub(1),
            '{' => depth += 1,
            '}' if depth <= 1 => return at + ahead + 1,
            '}' => depth -= 1,
            _ => {}
        }
    }
    bare.len()
}

#[test]
fn every_function_can_be_read_in_one_sitting() {
    none(&long_functions(&rust(), &TABLES));
}

#[test]
fn a_long_function_is_found() {
    let function = |lines: usize| {
        planted("src/a.rs", &format!("fn f(key: [u8; 32]) {{\n{}}}\nfn g() {{}}\n", "    x();\n".repeat(lines)))
    };
    none(&long_functions(&function(LONGEST_FUNCTION - 2), &[]));
    one(&long_functions(&function(LONGEST_FUNCTION - 1), &[]), "fn f has 71 lines");
    none(&long_functions(&function(LONGEST_FUNCTION - 1), &[("src/a.rs", "f", "a table")]));
    one(&long_functions(&function(LONGEST_FUNCTION - 1), &[("src/a.rs", "f", "")])[..1], "fn f has 71 lines");
    one(&long_functions(&function(1), &[("src/a.rs", "f", "a table")]), "take its reason out");
}
