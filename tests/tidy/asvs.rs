//! The table of security requirements beside the walk of the permissions names only tests that are there, and gives a reason
//! wherever it names none.

use super::{File, below};

const TABLE: &str = "tests/permissions/ASVS.md";
const HOW: [&str; 4] = ["shown", "by build", "not here", "open"];

/// What is wrong with the rows of a table.
fn breaches(table: &str, files: &[File]) -> Vec<String> {
    let mut found = Vec::new();
    let mut before: Vec<u32> = Vec::new();
    for line in table.lines().filter(|line| line.starts_with("| ") && !line.starts_with("| no.")) {
        let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
        let [no, level, subject, how, why] = cells[..] else {
            found.push(format!("{line}: not five cells"));
            continue;
        };
        let number: Vec<u32> = no.split('.').map(|part| part.parse().unwrap_or(u32::MAX)).collect();
        if number <= before {
            found.push(format!("{no}: out of order"));
        }
        before = number;
        if !["1", "2"].contains(&level) || subject.is_empty() || !HOW.contains(&how) || why.is_empty() {
            found.push(format!("{no}: a cell is missing or wrong"));
        }
        let named: Vec<&str> = why.split('`').skip(1).step_by(2).filter(|name| name.contains(".rs::")).collect();
        if how == "shown" && named.is_empty() {
            found.push(format!("{no}: names no test"));
        }
        for name in named {
            let (path, function) = name.split_once("::").unwrap_or((name, ""));
            let there = |file: &File| file.path == path && is_test(&file.text, function);
            if !files.iter().any(there) {
                found.push(format!("{no}: there is no test {name}"));
            }
        }
    }
    found
}

/// Whether a source has a test of this name: an attribute for tests stands right before it.
fn is_test(source: &str, function: &str) -> bool {
    let lines: Vec<&str> = source.lines().map(str::trim).collect();
    let begins = |line: &str| {
        let rest = line.strip_prefix("async ").unwrap_or(line).strip_prefix("fn ");
        rest.and_then(|rest| rest.strip_prefix(function)).is_some_and(|rest| rest.starts_with('('))
    };
    let marked = |at: usize| {
        let above = lines[..at].iter().rev().take_while(|line| line.starts_with("#[") || line.starts_with("//"));
        let test = |line: &str| line.ends_with("test]") || line.starts_with("#[tokio::test(");
        above.into_iter().any(|line| line.starts_with("#[") && test(line))
    };
    (0..lines.len()).any(|at| begins(lines[at]) && marked(at))
}

fn sources() -> Vec<File> {
    below("src").into_iter().chain(below("tests")).collect()
}

#[test]
fn every_test_that_the_table_names_exists() {
    let files = sources();
    let table = files.iter().find(|file| file.path == TABLE).expect("the table");
    assert!(table.text.lines().filter(|line| line.starts_with("| ")).count() > 150, "the table is short of rows");
    assert_eq!(breaches(&table.text, &files), [] as [String; 0]);
}

#[test]
fn a_row_that_names_nothing_or_nobody_is_found() {
    let files = vec![File {
        path: "tests/a.rs".to_owned(),
        text: "#[tokio::test]\nasync fn it_holds() {}\n\nfn a_helper() {}\n\n\
               #[tokio::test(flavor = \"multi_thread\")]\nasync fn it_holds_too() {}\n"
            .to_owned(),
    }];
    let row = |how: &str, why: &str| format!("| 1.1.1 | 2 | a subject | {how} | {why} |");
    assert_eq!(breaches(&row("shown", "`tests/a.rs::it_holds`"), &files), [] as [String; 0]);
    assert_eq!(breaches(&row("shown", "`tests/a.rs::it_holds_too`"), &files), [] as [String; 0]);
    assert_eq!(breaches(&row("open", "a reason"), &files), [] as [String; 0]);
    for bad in [
        row("shown", "a reason"),
        row("shown", "`tests/a.rs::a_helper`"),
        row("shown", "`tests/a.rs::it_hold`"),
        row("shown", "`tests/b.rs::it_holds`"),
        row("done", "a reason"),
        format!("{}\n{}", row("open", "a reason"), row("open", "a reason")),
    ] {
        assert_eq!(breaches(&bad, &files).len(), 1, "{bad}");
    }
}
