//! `sootmark journey`: what a person, a program, a spreadsheet and a drawing program get to see.

use super::seen;
use serde_json::Value;

const MACHINE: [&str; 3] = ["journey", "--machine", "tests/reference/common_practice.toml"];
/// Work up to the active level, a try that drops to idle, a stop with a parked regeneration that is first refused.
const DUTY: &str = "minutes,load_percent,speed_rpm,ambient_c,action\n\
                    120,40,1600,25,inhibit_on\n\
                    10,10,900,,inhibit_off\n\
                    5,0,900,25,stand start_parked\n\
                    50,0,900,25,park_brake_on neutral_on attachment_down start_parked\n";

fn made(more: &[&str], soot_percent: f64) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let situation = folder.path().join("situation.json");
    std::fs::write(&situation, format!("{{\"soot_percent\": {soot_percent}, \"outlet_c\": 235}}"))
        .expect("a situation");
    let situation = situation.to_string_lossy().into_owned();
    seen(&[&MACHINE[..], &["--duty", "-", "--situation", &situation], more].concat(), DUTY)
}

fn stdout(told: &str) -> &str {
    let (out, rest) = told.split_once("--- stderr\n").expect("both streams");
    assert_eq!(rest, "--- exit 0", "nothing on stderr");
    out
}

#[test]
fn the_help_documents_every_form() {
    insta::assert_snapshot!(seen(&["journey", "--help"], ""));
}

#[test]
fn a_person_reads_what_happened_and_why() {
    insta::assert_snapshot!(made(&[], 78.0));
}

#[test]
fn a_program_gets_json_whose_every_field_is_documented() {
    let told = made(&["--json"], 78.0);
    let answer: Value = serde_json::from_str(stdout(&told)).expect("JSON");
    let points = answer["points"].as_array().expect("points");
    assert!(points.windows(2).all(|pair| pair[0]["seconds"].as_f64() <= pair[1]["seconds"].as_f64()));
    let what: Vec<&str> =
        answer["events"].as_array().expect("events").iter().filter_map(|e| e["what"].as_str()).collect();
    for wanted in ["held_back", "start_refused", "regeneration_started", "regeneration_completed", "operator"] {
        assert!(what.contains(&wanted), "{wanted} is not in {what:?}");
    }
    let costs = &answer["costs"];
    let gram = |field: &str| costs[field].as_f64().expect("a number");
    let burnt = gram("burnt_passive_g") + gram("burnt_active_g") + gram("burnt_parked_g");
    assert!((gram("soot_start_g") + gram("soot_in_g") - burnt - gram("soot_left_g")).abs() < 1e-9);
    let parts = [&answer, &answer["points"][0], &answer["events"][0], &answer["costs"], &answer["signals"][0]];
    for field in parts.iter().flat_map(|part| part.as_object().expect("an object").keys()) {
        super::documented(&["journey", "--help"], include_str!("../../src/cli/journey.rs"), field);
    }
}

#[test]
fn a_spreadsheet_gets_the_trajectory() {
    let told = made(&["--csv"], 78.0);
    let mut rows = csv::Reader::from_reader(stdout(&told).as_bytes());
    assert_eq!(rows.headers().expect("a heading").len(), 10);
    let soot: Vec<f64> = rows.records().map(|row| row.expect("a row")[2].parse().expect("a number")).collect();
    assert!(soot.len() > 50 && soot.iter().all(|percent| (0.0..200.0).contains(percent)));
    assert!(soot.first().is_some_and(|percent| *percent == 78.0) && soot.last().is_some_and(|percent| *percent < 5.0));
}

#[test]
fn a_drawing_stands_on_its_own() {
    let told = made(&["--svg"], 78.0);
    let svg = stdout(&told);
    assert!(svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\""), "{svg}");
    assert_eq!(svg.matches("<svg ").count(), svg.matches("</svg>").count());
    assert!(svg.contains("Soot goes from 78 % to") && svg.contains("<style>") && svg.contains("very high"), "{svg}");
}

#[test]
fn forms_exclude_each_other_and_a_wrong_file_is_told_whole() {
    let both = made(&["--json", "--svg"], 78.0);
    assert!(both.ends_with("--- exit 2"), "{both}");
    let wrong =
        seen(&[&MACHINE[..], &["--duty", "-"]].concat(), "minutes,load_percent,speed_rpm,action\n5,40,1600,key_of\n");
    assert!(wrong.contains("stdin:2: action: \"key_of\" is not known here; did you mean \"key_off\"?"), "{wrong}");
    let stdin = seen(&["journey", "--machine", "-", "--duty", "-"], "");
    assert!(stdin.contains("only one of --machine, --duty and --situation can be -"), "{stdin}");
}
