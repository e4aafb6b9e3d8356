//! The bank that is shipped: what its files must be, whoever edits them; and what becomes of a bank that is broken.

mod broken;
mod cases;
mod damaged;
mod effect;
mod figures;
mod forms;
mod generation;
mod grading;
mod grammar;
mod hostile;
mod judgement;
mod language;
mod machines;
mod misconceptions;
mod pools;
mod reading;
mod wording;

use sootmark::domain::aftertreatment::profile::Profile;
use sootmark::domain::bank::Bank;
use sootmark::domain::scenario::generate::Machine;
use sootmark::domain::scenario::template::{CompetenceRules, Lexicon, Template};
use std::path::{Path, PathBuf};

const COMMON_PRACTICE: &str = include_str!("../reference/common_practice.toml");

/// The shipped bank, which has no problem.
fn shipped() -> Bank {
    let (bank, problems) = Bank::read(&sootmark::bank_files::embedded());
    assert_eq!(problems, []);
    bank
}

/// The machine of common practice, which no edit of the bank changes.
fn common_practice() -> Machine {
    Machine::new(Profile::read("common_practice.toml", COMMON_PRACTICE).expect("the test profile is whole"), 1)
}

/// The words that a template of the tests' own may use.
fn lexicon() -> Lexicon {
    let bands = common_practice().profile.bands.into_iter().map(|band| band.id).collect();
    let fire = CompetenceRules { id: "fire".into(), mandatory: true, reading_grade: 8 };
    Lexicon { competences: vec![fire], machines: vec!["common-practice".into()], bands }
}

/// The files of a folder beside this one, by name.
fn files(folder: &str) -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bank").join(folder);
    let entries = std::fs::read_dir(folder).expect("the folder is there");
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.expect("a file").path()).collect();
    files.sort();
    files
}

/// The templates that hold generation still: one for each thing that can be asked.
fn golden() -> Vec<Template> {
    let read = |path: &PathBuf| {
        let name = path.file_stem().expect("a name").to_string_lossy();
        let text = std::fs::read_to_string(path).expect("a template is text");
        Template::read(&name, &name, &text, &lexicon()).unwrap_or_else(|problems| panic!("{problems:#?}"))
    };
    files("golden").iter().map(read).collect()
}
