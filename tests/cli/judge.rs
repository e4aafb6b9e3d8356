//! `sootmark judge`: what a person, a program and somebody with a wrong file get to see.

use super::seen;
use serde_json::Value;
use sootmark::domain::aftertreatment::situation::Situation;
use std::process::Command;

/// The test profile of common practice; it changes only when practice does.
const MACHINE: [&str; 3] = ["judge", "--machine", "tests/reference/common_practice.toml"];

fn judged(more: &[&str], situation: &str) -> String {
    seen(&[&MACHINE[..], &["--situation", "-"], more].concat(), situation)
}

#[test]
fn the_help_documents_both_forms() {
    insta::assert_snapshot!(seen(&["judge", "--help"], ""));
}

// Common practice, no published source: at 95 % soot a parked regeneration, in a place made safe first.
#[test]
fn a_parked_regeneration_over_straw_is_moved_first() {
    let situation = r#"{"soot_percent": 95, "outlet_c": 210, "standing": true, "park_brake": true, "neutral": true,
                        "attachment_down": true, "ground": "straw"}"#;
    insta::assert_snapshot!(judged(&[], situation));
}

// Worst first. Source: ANSI Z535.4, the order of its signal words (secondary).
#[test]
fn the_worst_caution_stands_first() {
    let told = judged(&[], r#"{"soot_percent": 50, "outlet_c": 300, "enclosure": "open_sided", "ground": "straw"}"#);
    let place = |word| told.find(word).expect(word);
    assert!(place("\nDANGER ") < place("\nWARNING "), "{told}");
}

// Common practice, no published source: the same machine in a place made safe.
#[test]
fn in_a_safe_place_it_is_started() {
    let situation =
        r#"{"soot_percent": 95, "standing": true, "park_brake": true, "neutral": true, "attachment_down": true}"#;
    let told = judged(&[], situation);
    assert!(told.contains("Do first      Start a parked regeneration here and now."), "{told}");
}

// 250 °C = 482 °F and 600 °C = 1112 °F. From memory, not confirmed: NIST SP 811.
#[test]
fn the_answer_comes_in_the_readers_scale_and_says_where_it_extrapolates() {
    let told = judged(&["--fahrenheit"], r#"{"soot_percent": 70, "outlet_c": 200, "load_percent": 5}"#);
    assert!(told.contains("was measured from 482 °F to 1112 °F; here it is"), "{told}");
    assert!(!judged(&[], r#"{"soot_percent": 70, "outlet_c": 260}"#).contains("extrapolated"));
}

#[test]
fn a_program_gets_json() {
    let told = judged(&["--json"], r#"{"soot_percent": 121, "enclosure": "closed"}"#);
    insta::assert_snapshot!(told);
    let (json, _) = told.split_once("--- stderr").expect("both streams");
    let answer: Value = serde_json::from_str(json).expect("JSON");
    // Common practice, no published source: above 120 % the machine must not be used and service is called.
    assert_eq!(answer["route"], "stop_and_call");
    assert_eq!(answer["cautions"][0]["signal"], "danger");
    let fields: Vec<&str> = answer.as_object().expect("an object").keys().map(String::as_str).collect();
    described(&fields, "THE ANSWER", "# The answer");
}

#[test]
fn both_descriptions_of_the_situation_are_whole() {
    let usual = serde_json::to_value(Situation::default()).expect("JSON");
    let fields: Vec<&str> = usual.as_object().expect("an object").keys().map(String::as_str).collect();
    described(&fields, "THE SITUATION", "# The situation");
}

/// The long help and the module's documentation, from which the README is written, each name every field.
#[track_caller]
fn described(fields: &[&str], in_help: &str, in_docs: &str) {
    let help = seen(&["judge", "--help"], "");
    for (text, heading) in [(help.as_str(), in_help), (include_str!("../../src/cli/judge.rs"), in_docs)] {
        let part = text.split_once(heading).expect(heading).1;
        let part = part.split("THE ANSWER").next().and_then(|part| part.split("//! # ").next()).expect("a part");
        let named = |field: &str| part.split([' ', ',', '\n', '`']).any(|word| word == field);
        for field in fields {
            assert!(named(field), "{heading} does not say what {field} is");
        }
    }
}

#[test]
fn every_problem_of_both_files_is_reported() {
    let folder = tempfile::tempdir().expect("a folder");
    let machine = include_str!("../reference/common_practice.toml").replace("\"17.0 L\"", "\"-17.0 L\"");
    std::fs::write(folder.path().join("machine.toml"), machine).expect("a profile");
    let situation = "{\n  \"soot_percent\": 300,\n  \"soot_load\": 5,\n  \"ground\": \"mud\"\n}\n";
    std::fs::write(folder.path().join("situation.json"), situation).expect("a situation");
    let output = Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(["judge", "--machine", "machine.toml", "--situation", "situation.json"])
        .current_dir(folder.path())
        .output()
        .expect("the program runs");
    assert_eq!(output.status.code(), Some(1));
    assert!(output.stdout.is_empty(), "no half answer");
    insta::assert_snapshot!(String::from_utf8(output.stderr).expect("UTF-8"));
}

#[test]
fn a_message_names_the_flag() {
    let nowhere = seen(&["judge", "--machine", "nowhere.toml", "--situation", "-"], "{}");
    assert!(nowhere.contains("Sootmark: --machine nowhere.toml: "), "{nowhere}");
    assert!(nowhere.ends_with("--- exit 1"), "{nowhere}");
    let both = seen(&["judge", "--machine", "-", "--situation", "-"], "{}");
    assert!(both.contains("--machine and --situation cannot both be -"), "{both}");
    let usage = seen(&["judge", "--machine", "nowhere.toml"], "");
    assert!(usage.contains("--situation <FILE>") && usage.ends_with("--- exit 2"), "{usage}");
}

#[test]
#[cfg(target_os = "linux")]
fn an_answer_that_cannot_be_written_is_an_error() {
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").expect("a device that is always full");
    let output = Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(["bank", "misconceptions"])
        .stdout(full)
        .output()
        .expect("the program runs");
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).starts_with("Sootmark: stdout: "));
}
