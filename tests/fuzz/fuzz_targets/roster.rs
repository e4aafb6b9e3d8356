//! Any text as a roster: every row is a person or a problem with a line that is there, and who was read without a problem reads
//! the same when written again.
//!
//! Never says whether a branch or a scheme exists; no database is near.

#![no_main]

use libfuzzer_sys::fuzz_target;
use roster::{COLUMNS, Entry};
use sootmark_domain as domain;

// The file itself: what reads a roster is nobody else's business, so the program does not show it to others.
#[path = "../../../src/actions/import_people/roster.rs"]
mod roster;

/// The same people as a spreadsheet would write them.
fn written(entries: &[Entry]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS).expect("a heading");
    for entry in entries {
        let scheme = entry.scheme.as_deref().unwrap_or_default();
        let row = [entry.name.as_str(), entry.email.as_str(), entry.branch.as_str(), entry.role.id(), scheme];
        writer.write_record(row).expect("a row");
    }
    String::from_utf8(writer.into_inner().expect("the text")).expect("UTF-8")
}

fuzz_target!(|text: &str| {
    let (entries, problems) = roster::read(text);
    assert!(!entries.is_empty() || !problems.is_empty(), "nobody, and not a word why");
    let lines = text.split(['\r', '\n']).count() as u64;
    for problem in &problems {
        assert!((1..=lines).contains(&problem.line), "{problem}");
        assert!(!problem.message.is_empty());
    }
    assert!(entries.iter().all(|entry| (2..=lines).contains(&entry.line)));
    if problems.is_empty() {
        let (again, problems) = roster::read(&written(&entries));
        assert_eq!(problems, [], "what was taken once is taken again");
        let without_lines =
            |entries: Vec<Entry>| entries.into_iter().map(|entry| Entry { line: 0, ..entry }).collect::<Vec<_>>();
        assert_eq!(without_lines(again), without_lines(entries));
    }
});
