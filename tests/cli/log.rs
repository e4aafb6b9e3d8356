//! `sootmark log`: what a person, a program, a trainer and somebody with a wrong log get to see.

use super::seen;
use serde_json::Value;
use std::process::Command;

/// A shift of an invented machine: light work, a regeneration that the operator breaks off with the switch.
const SHIFT: &str = include_str!("logs/tarrel-60.log");
const MACHINE: [&str; 4] = ["log", "-", "--machine", "question-bank/machines/tarrel-60.toml"];

fn read(more: &[&str], log: &str) -> String {
    seen(&[&MACHINE[..], more].concat(), log)
}

fn json(log: &str) -> Value {
    let told = read(&["--json"], log);
    let (json, _) = told.split_once("--- stderr").expect("both streams");
    serde_json::from_str(json).expect("JSON")
}

#[test]
fn the_help_documents_log_and_answer() {
    insta::assert_snapshot!(seen(&["log", "--help"], ""));
}

#[test]
fn a_shift_is_told() {
    insta::assert_snapshot!(read(&[], SHIFT));
}

#[test]
fn a_program_gets_json() {
    let answer = json(SHIFT);
    assert_eq!(answer["lines"]["used"], 35);
    assert_eq!(answer["lines"]["ignored"]["parameter group 65266"], 7);
    assert_eq!(answer["seconds"], 1500.03);
    // Source: public decoders of SAE J1939-71: the shift's first soot byte is 0x42 (66 %), its hottest outlet 586 °C.
    assert_eq!(answer["readings"]["soot_percent"]["first"], 66.0);
    let hottest = answer["readings"]["outlet_c"]["most"].as_f64().expect("a number");
    assert!((hottest - 586.0).abs() <= 0.031_25, "{hottest}");
    let events: Vec<&str> =
        answer["events"].as_array().expect("events").iter().filter_map(|event| event["event"].as_str()).collect();
    let place = |event| events.iter().position(|each| *each == event).expect(event);
    assert!(place("regeneration_needed") < place("regeneration_began"));
    assert!(place("regeneration_began") < place("regeneration_ended"));
    assert!(events.contains(&"held_back") && events.contains(&"filter_lamp"), "{events:?}");
    assert_eq!(answer["last"]["situation"]["inhibit_on"], true);
    assert_eq!(answer["last"]["filter"]["held_back_by"], serde_json::json!(["switch"]));
    let journey = answer["journey"].as_array().expect("stretches").iter();
    let work: f64 = journey.filter_map(|stretch| stretch["seconds"].as_f64()).sum();
    assert!((work - 1500.029).abs() < 1e-6, "all of it, from the first word about load: {work}");
    // Common practice, no published source: a switch that nothing needs is switched back.
    assert_eq!(answer["judgement"]["route"], "release_inhibit");
    assert_eq!(answer["judgement"]["taken_as_usual"]["ground"], "bare_soil");
}

/// The long help and the module's documentation each name every field of the answer and every column of a table.
#[test]
fn both_descriptions_are_whole() {
    let help = seen(&["log", "--help"], "");
    let docs = include_str!("../../src/cli/log.rs");
    let named = |text: &str, word: &str| text.split([' ', ',', '\n', '`', '(']).any(|each| each == word);
    for field in json(SHIFT).as_object().expect("an object").keys() {
        let docs = docs.split_once("# The answer").expect("docs").1;
        let docs = docs.split_once("mod answer").expect("an end").0;
        let help = help.split_once("THE ANSWER").expect("help").1;
        assert!(named(docs, field) && named(help, field), "{field} is not described");
    }
    for (_, word) in sootmark::domain::aftertreatment::machine_log::words() {
        assert!(named(&help, word), "the help does not name the column {word}");
    }
}

/// Cut in a line, a line that comes late, a sender in the middle that was not there before, bytes that are no text.
#[test]
fn a_damaged_log_is_told_as_far_as_it_goes() {
    let mut lines: Vec<&str> = SHIFT.lines().take(24).collect();
    lines.insert(9, "(1772439460.000000) can0 18FD7B31#0A0AFFFFFFFFFFFF");
    lines.insert(12, "(1772439450.000000) can0 18FD7B00#4116FFFFFFFFFFFF");
    lines.push("(1772440352.020000) can0 18FDB300#FFFF");
    lines.push("(1772440352.03");
    let mut log = lines.join("\n").into_bytes();
    log.extend(b"\n\xff\xfe\x00\n");
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("cut.log");
    std::fs::write(&file, log).expect("a log");
    let machine = concat!(env!("CARGO_MANIFEST_DIR"), "/question-bank/machines/tarrel-60.toml");
    let output = Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(["log", "cut.log", "--machine", machine, "--json"])
        .current_dir(folder.path())
        .output()
        .expect("the program runs");
    assert_eq!(output.status.code(), Some(1));
    let answer: Value = serde_json::from_slice(&output.stdout).expect("JSON, whatever is wrong with the log");
    assert_eq!(answer["readings"]["soot_percent"]["least"], 65.0, "the late line is used, the stranger's is not");
    assert_eq!(answer["problems"].as_array().map(Vec::len), Some(5));
    insta::assert_snapshot!(String::from_utf8(output.stderr).expect("UTF-8"));
}

#[test]
fn a_log_of_another_machine_is_told() {
    let told = seen(&["log", "-", "--machine", "question-bank/machines/lunnock-9.toml"], SHIFT);
    assert!(told.contains("this machine regenerates at 70 %, a Lunnock 9 between"), "{told}");
    assert!(told.contains("Do first") && told.ends_with("--- exit 1"), "it is judged all the same: {told}");
}

#[test]
fn what_is_no_log_is_refused() {
    let told = read(&[], "Dear all,\nthe filter is full.\n");
    assert!(told.contains("stdin:0: log: this is no machine log"), "{told}");
    assert!(!told.contains("Do first") && told.ends_with("--- exit 1"), "{told}");
    let both = seen(&["log", "-", "--machine", "-"], "");
    assert!(both.contains("cannot both be -") && both.ends_with("--- exit 1"), "{both}");
    let nowhere = read(&[], "").replace("stdin", "");
    assert!(nowhere.contains("this is no machine log"), "{nowhere}");
}

/// The bank with one more scenario, written from the log, has no problem.
#[test]
fn the_scenario_passes_the_check_of_the_bank() {
    let told = read(&["--scenario", "inhibit"], SHIFT);
    let (text, rest) = told.split_once("--- stderr\n").expect("both streams");
    assert_eq!(rest, "--- exit 0");
    let folder = tempfile::tempdir().expect("a folder");
    let from = |path: &str| std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("question-bank").join(path);
    for path in ["machines", "templates/inhibit"] {
        std::fs::create_dir_all(folder.path().join(path)).expect("a folder");
    }
    for file in ["competences.toml", "machines/tarrel-60.toml"] {
        std::fs::copy(from(file), folder.path().join(file)).expect("a copy");
    }
    std::fs::write(folder.path().join("templates/inhibit/from-the-log.scenario"), text).expect("a scenario");
    let checked = seen(&["bank", "check", folder.path().to_str().expect("UTF-8")], "");
    assert!(checked.starts_with("one scenario on one machine, 200 seeds each: no problem."), "{checked}");
    // A log that ends without a word about soot gives none.
    let without = read(&["--scenario", "inhibit"], "time_s,soot_percent,outlet_c\n0,,300\n");
    assert!(without.contains("the log does not say the soot load at its end"), "{without}");
    assert!(without.starts_with("--- stderr") && without.ends_with("--- exit 1"), "{without}");
}

#[test]
fn the_answer_comes_in_the_readers_scale() {
    // 586 °C = 1086.8 °F. From memory, not confirmed: NIST SP 811.
    let told = read(&["--fahrenheit"], SHIFT).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("1087 °F") && !told.contains("586 °C"), "{told}");
}
