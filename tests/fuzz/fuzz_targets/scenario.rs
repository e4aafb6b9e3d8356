//! Any text as a scenario: it is read and tried, or refused with a bounded number of findings at places that are there.
//!
//! Never says whether a finding is the right one; `tests/bank/bad` does.

#![no_main]

use libfuzzer_sys::fuzz_target;
use sootmark_domain::aftertreatment::profile::Profile;
use sootmark_domain::document::MOST_FINDINGS;
use sootmark_domain::scenario::check::check;
use sootmark_domain::scenario::generate::Machine;
use sootmark_domain::scenario::template::{CompetenceRules, Lexicon, Template};
use std::sync::LazyLock;

const MACHINE: &str = include_str!("../../../question-bank/machines/tarrel-60.toml");

static MACHINES: LazyLock<[Machine; 1]> =
    LazyLock::new(|| [Machine::new(Profile::read("tarrel-60.toml", MACHINE).expect("the machine is whole"), 1)]);

static LEXICON: LazyLock<Lexicon> = LazyLock::new(|| Lexicon {
    competences: ["fire", "parked", "active", "passive", "soot_and_ash"]
        .map(|id| CompetenceRules { id: id.to_owned(), mandatory: false, reading_grade: 8 })
        .into(),
    machines: vec!["tarrel-60".to_owned()],
    bands: MACHINES[0].profile.bands.iter().map(|band| band.id.clone()).collect(),
});

fuzz_target!(|text: &str| {
    let found = match Template::read("own", "own", text, &LEXICON) {
        Ok(template) => check("own", &template, &*MACHINES, 1),
        Err(problems) => problems,
    };
    assert!(found.len() <= MOST_FINDINGS + 1, "{} findings", found.len());
    let lines: Vec<usize> = text.lines().map(|line| line.chars().count()).collect();
    for problem in found.iter().filter(|problem| problem.column > 0) {
        let line = lines.get(problem.line as usize - 1).copied().unwrap_or_default();
        assert!(problem.column as usize <= line + 1, "{problem}");
    }
});
