//! `sootmark forecast`: what a person and a program get to see.

use super::seen;
use serde_json::Value;

const MACHINE: [&str; 3] = ["forecast", "--machine", "tests/reference/common_practice.toml"];
const LIGHT: &str = "minutes,load_percent,speed_rpm\n60,20,1000\n";
const HEAVY: &str = "minutes,load_percent,speed_rpm\n60,100,2200\n";

fn ahead(more: &[&str], duty: &str) -> String {
    seen(&[&MACHINE[..], &["--duty", "-"], more].concat(), duty)
}

#[test]
fn the_help_documents_both_forms() {
    insta::assert_snapshot!(seen(&["forecast", "--help"], ""));
}

// Common practice, no published source: light work at low speed does not keep the filter clean.
#[test]
fn light_work_fills_the_filter() {
    insta::assert_snapshot!(ahead(&[], LIGHT));
}

// Common practice, no published source: heavy work at high speed does.
#[test]
fn heavy_work_keeps_it_clean_in_the_readers_scale() {
    let told = ahead(&["--fahrenheit"], HEAVY);
    assert!(told.contains("Work alone keeps the filter clean"), "{told}");
    // 500 °C = 932 °F. From memory, not confirmed: NIST SP 811.
    assert!(told.contains("it stays at 932 °F") && !told.contains("°C when"), "{told}");
}

#[test]
fn a_program_gets_json_whose_every_field_is_documented() {
    let told = ahead(&["--json"], LIGHT);
    let (json, _) = told.split_once("--- stderr").expect("both streams");
    let answer: Value = serde_json::from_str(json).expect("JSON");
    assert_eq!(answer["keeps_clean"], false);
    assert!(answer["active_after_h"].as_f64().is_some_and(|hours| hours > 10.0), "{answer}");
    for field in answer.as_object().expect("an object").keys() {
        super::documented(&["forecast", "--help"], include_str!("../../src/cli/forecast.rs"), field);
    }
}

#[test]
fn a_wrong_duty_is_told_whole() {
    let told = ahead(&[], "minutes,load_percent,speed_rpm\n-1,20,1000\n60,x,1000\n");
    assert!(told.contains("stdin:2: minutes: \"-1\" cannot stand here"), "{told}");
    assert!(told.contains("stdin:3: load_percent: \"x\" cannot stand here"), "{told}");
    assert!(told.starts_with("--- stderr") && told.ends_with("--- exit 1"), "{told}");
}
