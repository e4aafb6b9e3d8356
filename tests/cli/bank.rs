//! `sootmark bank`: on a small bank of the test's own, so that no edit of the real one changes what is expected here.

use super::seen;
use sootmark::domain::scenario::Question;
use std::path::Path;
use std::process::{Command, Stdio};
use tempfile::TempDir;

const COMPETENCES: &str = "[[competence]]\nid = \"fire\"\nname = \"Fire and burns\"\nsays = \"Keeps hot gas away from \
                           what burns.\"\nmandatory = true\n\
                           reading_grade = 8\n";

const STRAW: &str = "title: Straw under the wheels
competence: fire
level: 2
kind: choose one
machines: all
show: soot, ground
figure: lamps

[draw]
load = inside parked keep 3 %
place = one of straw, dry_grass, stubble

[situation]
soot = load
ground = place
standing = yes
park_brake = yes
neutral = yes

[story]
The machine has stood on {place} since noon.

[question]
What do you do first?

[answer]
ask: route
believe: anywhere_is_safe, parked_cures_all
";

/// A small bank that is in order, with some files changed.
fn bank(changes: &[(&str, &str)]) -> TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let whole = [
        ("competences.toml", COMPETENCES),
        ("machines/common-practice.toml", include_str!("../reference/common_practice.toml")),
        ("templates/fire/straw.scenario", STRAW),
    ];
    for (path, text) in whole.iter().chain(changes) {
        let file = folder.path().join(path);
        std::fs::create_dir_all(file.parent().expect("a folder")).expect("a folder");
        std::fs::write(file, text).expect("a file");
    }
    folder
}

/// Where the bank's folder happens to lie is no part of what is expected.
fn seen_of(folder: &Path, arguments: &[&str]) -> String {
    let folder = folder.to_str().expect("UTF-8");
    let with: Vec<&str> = arguments.iter().map(|each| if *each == "BANK" { folder } else { each }).collect();
    seen(&with, "").replace(folder, "BANK")
}

#[test]
fn a_bank_in_order_is_checked_and_counted() {
    let told = seen_of(bank(&[]).path(), &["bank", "check", "BANK", "--seeds", "20"]);
    assert_eq!(told, "one scenario on one machine, 20 seeds each: no problem.\n--- stderr\n--- exit 0");
}

#[test]
fn planted_faults_are_each_found_with_file_and_line() {
    let stuck = STRAW.replace("[story]", "[only if]\nload > 200 %\n\n[story]");
    let faults = [
        ("templates/fire/straw.scenario", &*STRAW.replace("parked_cures_all", "parked_cures_al")),
        ("templates/fire/stuck.scenario", &stuck),
        ("templates/fire/notes.txt", "remember the hay"),
    ];
    insta::assert_snapshot!(seen_of(bank(&faults).path(), &["bank", "check", "BANK", "--seeds", "20"]));
}

#[test]
fn a_scenario_that_differs_from_another_only_in_its_numbers_is_found() {
    let other = |text: &str| text.replace("title: ", "title: Again: ");
    // Other words make another scenario; another reading does not.
    let reworded = other(STRAW).replace("What do you do first?", "What comes before all else?");
    let told = seen_of(
        bank(&[("templates/fire/other.scenario", &reworded)]).path(),
        &["bank", "check", "BANK", "--seeds", "5"],
    );
    assert!(told.starts_with("2 scenarios on one machine, 5 seeds each: no problem."), "{told}");
    let renumbered = other(STRAW).replace("neutral = yes\n", "neutral = yes\noutlet = 150 °C\n");
    assert_ne!(renumbered, other(STRAW));
    let told =
        seen_of(bank(&[("templates/fire/z.scenario", &renumbered)]).path(), &["bank", "check", "BANK", "--seeds", "5"]);
    let says = "BANK/templates/fire/z.scenario:1: story: its questions read like those of \"fire/straw\" apart from their \
                numbers: make one scenario of the two";
    assert!(told.contains(says) && told.ends_with("--- exit 1"), "{told}");
}

#[test]
fn an_empty_folder_is_not_in_order() {
    let folder = tempfile::tempdir().expect("a folder");
    let told = seen_of(folder.path(), &["bank", "check", "BANK"]);
    assert!(told.contains("BANK:0: templates: there is no scenario"), "{told}");
    assert!(told.ends_with("--- exit 1"), "{told}");
    let nowhere = seen(&["bank", "check", "nowhere"], "");
    assert!(nowhere.contains("Sootmark: nowhere: ") && nowhere.ends_with("--- exit 1"), "{nowhere}");
    let usage = seen(&["bank", "check", "--seeds", "0"], "");
    assert!(usage.contains("--seeds") && usage.ends_with("--- exit 2"), "{usage}");
}

#[test]
fn the_built_in_bank_is_in_order() {
    let told = seen(&["bank", "check", "--seeds", "40"], "");
    assert!(told.ends_with("40 seeds each: no problem.\n--- stderr\n--- exit 0"), "{told}");
}

#[test]
fn coverage_counts_scenarios_and_names_what_is_left_out() {
    let told = seen_of(bank(&[]).path(), &["bank", "coverage", "BANK", "--seeds", "40"]);
    let row = told.lines().find(|line| line.starts_with("Fire and burns *")).expect("the competence, marked mandatory");
    let cells: Vec<&str> = row.split_whitespace().skip(4).collect();
    assert_eq!(cells, ["none", "1", "none"], "{told}");
    for part in [
        "Nothing asks about Fire and burns at level 1, knows.",
        "Nothing asks about Fire and burns at level 3, judges.",
        "Nothing in the bank has the kind \"number\".",
        "fire/straw",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
    assert!(!told.contains("at level 2, applies.") && told.ends_with("--- exit 0"), "{told}");
}

#[test]
fn a_sample_reads_like_a_card() {
    insta::assert_snapshot!(seen_of(
        bank(&[]).path(),
        &["bank", "sample", "fire/straw", "--seed", "7", "--bank", "BANK"]
    ));
}

#[test]
fn the_same_seed_gives_the_same_questions_also_as_json() {
    let folder = bank(&[]);
    let sample = |more: &[&str]| {
        seen_of(folder.path(), &[&["bank", "sample", "fire/straw", "--bank", "BANK", "--json"], more].concat())
    };
    let two = sample(&["--seed", "5", "--count", "2"]);
    let questions: Vec<Question> = two
        .lines()
        .take_while(|line| !line.starts_with("---"))
        .map(|line| serde_json::from_str(line).expect("a question on each line"))
        .collect();
    assert_eq!(questions.iter().map(|question| question.source.stream).collect::<Vec<_>>(), [5, 6]);
    assert_ne!(questions[0].bytes(), questions[1].bytes());
    assert_eq!(two.lines().nth(1), sample(&["--seed", "6"]).lines().next(), "a seed does not depend on the count");
}

#[test]
fn a_sample_of_a_case_has_every_part() {
    let part = "\n[part]\nkind: choose one\nshow: soot, ground\n\n[situation]\nground = concrete\n\n\
                [story]\nYou took it on to the slab.\n\n[question]\nAnd now?\n\n[answer]\nask: route\n";
    let first = "[part]\nkind: choose one\n\n[question]\nWhat do";
    let case = STRAW.replace("kind: choose one", "kind: case").replace("[question]\nWhat do", first) + part;
    let folder = bank(&[("templates/fire/case.scenario", &case)]);
    let sample = |more: &[&str]| {
        let own = ["bank", "sample", "fire/case", "--bank", "BANK", "--seed", "7"];
        seen_of(folder.path(), &[own.as_slice(), more].concat())
    };
    let told = sample(&[]);
    for words in ["seed 7, part 1 of 2", "seed 7, part 2 of 2", "You took it on to the slab."] {
        assert_eq!(told.matches(words).count(), 1, "{words} in {told}");
    }
    let json = sample(&["--json", "--count", "2"]);
    let lines = json.lines().take_while(|line| !line.starts_with("---"));
    let parts: Vec<(u64, (usize, usize))> = lines
        .map(|line| serde_json::from_str::<Question>(line).expect("a question on each line"))
        .map(|question| (question.source.stream, question.part()))
        .collect();
    assert_eq!(parts, [(7, (1, 2)), (7, (2, 2)), (8, (1, 2)), (8, (2, 2))]);
}

#[test]
fn a_wrong_name_is_answered_with_what_there_is() {
    let broken = STRAW.replace("level: 2", "level: 9");
    let folder = bank(&[("templates/fire/broken.scenario", &broken)]);
    let told = |template: &str, more: &[&str]| {
        seen_of(folder.path(), &[&["bank", "sample", template, "--bank", "BANK"], more].concat())
    };
    assert!(told("fire/strow", &[]).contains("there is no scenario fire/strow; did you mean fire/straw?"));
    assert!(told("lamps/all", &[]).contains("Known are:\n  fire/straw\n"));
    let machine = told("fire/straw", &["--machine", "tractor"]);
    assert!(machine.contains("--machine tractor: the scenario fire/straw fits common-practice"), "{machine}");
    let broken = told("fire/broken", &[]);
    assert!(broken.contains("BANK/templates/fire/broken.scenario:3:8: level: "), "{broken}");
    assert!(broken.ends_with("the scenario fire/broken is broken: correct what is listed\n--- exit 1"), "{broken}");
}

#[test]
fn a_reader_that_has_seen_enough_is_no_error() {
    let mut program = Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(["bank", "sample", "fire/straw-under-the-boom", "--count", "10000"])
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(program.stdout.take());
    assert_eq!(program.wait().expect("it ends").code(), Some(0));
}

#[test]
fn the_misconceptions_are_listed_in_plain_words() {
    let told = seen(&["bank", "misconceptions"], "");
    for misconception in sootmark::domain::scenario::misconception::ALL {
        assert!(told.contains(misconception.id) && told.contains(misconception.name), "{}", misconception.id);
    }
    assert!(told.contains("parked_cures_all: Parked regeneration cures everything\nBelieves      Whatever"), "{told}");
}

#[test]
fn the_help_names_every_choice() {
    insta::assert_snapshot!(seen(&["bank", "sample", "--help"], ""));
}
