//! The worst scenarios that anybody could send: each is refused, with findings that somebody can use.
//!
//! Holds work and sizes, never time: what each takes is measured by the bench `hostile`.

pub(crate) mod texts;

use super::{common_practice, lexicon};
use proptest::prelude::*;
use sootmark::domain::bank::DocumentKind;
use sootmark::domain::document::{MOST_FINDINGS, Problem};
use sootmark::domain::scenario::check::check;
use sootmark::domain::scenario::template::Template;

/// What is found in a text, reading and trying it.
fn found(text: &str) -> Vec<Problem> {
    match Template::read("own", "own", text, &lexicon()) {
        Ok(template) => check("own", &template, &[common_practice()], 1),
        Err(problems) => problems,
    }
}

#[test]
fn each_is_refused_with_few_findings_at_places_that_are_there() {
    let good = ["quotes", "braces"];
    for (what, text) in texts::texts() {
        let found = found(&text);
        assert!(!found.is_empty() || good.contains(&what), "{what}: nothing is found");
        assert!(found.len() <= MOST_FINDINGS + 1, "{what}: {} findings", found.len());
        let lines: Vec<usize> = text.lines().map(|line| line.chars().count()).collect();
        for problem in found {
            let line = problem.line as usize;
            let column = problem.column as usize;
            let there = line <= lines.len().max(1) && (column == 0 || column <= lines[line - 1] + 1);
            assert!(there, "{what}: there is no place {}: {problem}", problem.place());
            assert!(problem.message.len() <= 3_000, "{what}: {} bytes: {problem}", problem.message.len());
        }
    }
}

#[test]
fn what_is_not_listed_is_counted() {
    let lines = "route = rout\n".repeat(200);
    let text = texts::texts().into_iter().find(|(what, _)| *what == "nothing at all").map(|(_, text)| text);
    let found = found(&format!("{}[only if]\n{lines}", text.expect("a text")));
    // Seven things are missing, the lines are too many, and a hundred of them are read.
    assert_eq!(found.len(), MOST_FINDINGS + 1);
    assert_eq!(found.last().map(|last| (last.line, last.message.contains(" more are not listed"))), Some((0, true)));
}

/// A change to a text: what is taken out, and what is put there.
fn changed(text: &str, at: usize, length: usize, put: &str) -> String {
    let from = text.floor_char_boundary(at % (text.len() + 1));
    let to = text.ceil_char_boundary((from + length).min(text.len()));
    format!("{}{put}{}", &text[..from], &text[to..])
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    /// The same is tried with the fuzzer's own changes by `tests/fuzz`.
    #[test]
    fn a_scenario_of_the_bank_that_was_changed_anyhow_is_read_or_refused(
        which in 0_usize..1_000,
        changes in proptest::collection::vec((0_usize..10_000, 0_usize..40, 0_usize..PUT.len()), 1..6),
    ) {
        let documents = sootmark::bank_files::embedded();
        let scenarios: Vec<_> = documents.iter().filter(|file| file.kind == DocumentKind::Template).collect();
        let text = &scenarios[which % scenarios.len()].text;
        let text = changes.iter().fold(text.clone(), |text, (at, length, put)| changed(&text, *at, *length, PUT[*put]));
        let found = found(&text);
        prop_assert!(found.len() <= MOST_FINDINGS + 1);
        let lines: Vec<usize> = text.lines().map(|line| line.chars().count()).collect();
        for problem in found.iter().filter(|problem| problem.column > 0) {
            let line = lines.get(problem.line as usize - 1).copied().unwrap_or_default();
            prop_assert!(problem.column as usize <= line + 1, "{problem}");
        }
    }
}

/// What a change puts into a text.
const PUT: [&str; 16] = [
    "",
    "\n",
    " ",
    "{",
    "}",
    "|",
    "(",
    ")",
    "\"",
    "°",
    "load",
    "[let]\nload = load\n",
    " + ",
    "999999999999 h",
    "[part]\n",
    "not ",
];
