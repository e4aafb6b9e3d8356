//! Tests of reading a machine's log: every line has its fate, nothing is dropped in silence, nothing panics.

use super::*;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::signals::{FilterLamp, InhibitReason, RegenerationStatus};
use proptest::prelude::*;

fn read(text: &str) -> MachineLog {
    MachineLog::read("machine.log", text)
}

#[track_caller]
fn problems(text: &str, expected: &[&str]) {
    let told: Vec<String> = read(text).problems.iter().map(ToString::to_string).collect();
    assert_eq!(told, expected);
}

/// All lines are accounted for, and each refused one has its problem.
#[track_caller]
fn accounted(log: &MachineLog, text: &str) {
    let lines = &log.lines;
    assert_eq!(lines.all as usize, text.strip_prefix('\u{feff}').unwrap_or(text).lines().count());
    assert_eq!(lines.all, lines.used + lines.blank + lines.refused + lines.ignored_lines());
    let at_lines = log.problems.iter().filter(|problem| problem.line > 0).count();
    let whole = log.problems.iter().any(|problem| problem.line == 0);
    assert!(whole || at_lines >= lines.refused as usize, "{:?}", log.problems);
    assert!(log.readings.len() == lines.used as usize);
}

const SOOT_62: &str = "18FD7B00#3E05FFFFFFFFE561";

#[test]
fn both_forms_of_a_line_say_the_same() {
    let compact = read("(10.250000) can0 18FD7B00#3E05FFFFFFFFE561\n");
    for text in [
        " (10.250000)  can0  18FD7B00   [8]  3E 05 FF FF FF FF E5 61\n",
        " (10.250000)  can0  RX - -  18fd7b00   [8]  3E 05 FF FF FF FF E5 61   '>.......'\n",
        "(10.250000) can0 18FD7B00#3E.05.FF.FF.FF.FF.E5.61 R\n",
        "(1970-01-01 00:00:10.250000) can0 18FD7B00#3E05FFFFFFFFE561\n",
    ] {
        assert_eq!(read(text), compact, "{text}");
    }
    assert_eq!(compact.readings[0].at_us, Some(10_250_000));
    assert_eq!(compact.readings[0].readout.number(3719), Some(62.0));
    let plain = read("  can0  18FD7B00   [8]  3E 05 FF FF FF FF E5 61\n");
    assert_eq!((plain.readings[0].at_us, plain.seconds()), (None, None));
    assert_eq!(plain.readings[0].readout, compact.readings[0].readout);
}

#[test]
fn a_table_of_signals_says_the_same_as_the_frames() {
    let frames = read(&format!("(1.000000) can0 {SOOT_62}\n(2.000000) can0 18FD7C00#FC9FFFFFFFFFFFFF\n"));
    let table =
        read("time_s,soot_percent,SPN 3720,5466,filter_lamp,status\n1,62,5,62.6525,,\n2,,,,blinking,needed_lowest\n");
    assert_eq!(frames.problems, []);
    assert_eq!(table.problems, []);
    let last = |log: &MachineLog| log.readings.last().unwrap().readout.clone();
    assert_eq!(last(&frames), last(&table));
    assert_eq!(last(&table).filter.status, RegenerationStatus::NeededLowest);
    accounted(&table, "a\nb\nc\n");
}

#[test]
fn what_a_cut_log_says_is_kept_and_its_cut_is_told() {
    let text = format!("00000FF\n(1.000000) can0 {SOOT_62}\n(2.000000) can0 18FD7B00#3F0\n(3.000000) can0 18FD7");
    problems(
        &text,
        &[
            "machine.log:1: line: this is no frame: interface and identifier are needed",
            "machine.log:3: parameter group 64891: is cut: 1 of 8 bytes; what they say is used",
            "machine.log:4: line: \"18FD7\" is no identifier; 8 hexadecimal digits are wanted (3 for an 11-bit one)",
        ],
    );
    let log = read(&text);
    let last = &log.readings.last().unwrap().readout;
    assert_eq!((last.number(3719), last.number(3720)), (Some(63.0), Some(5.0)), "the second byte was not said again");
    accounted(&log, &text);
}

#[test]
fn a_reading_that_comes_late_stands_where_its_time_belongs() {
    let text =
        format!("(5.000000) can0 18FD7B00#46FFFFFFFFFFFFFF\n(1.000000) can0 {SOOT_62}\n(6.000000) can0 {SOOT_62}\n");
    problems(
        &text,
        &["machine.log:2: time: is earlier than line 1 before it; its reading stands where its time belongs"],
    );
    let soot: Vec<_> =
        read(&text).readings.iter().map(|reading| (reading.line, reading.readout.number(3719))).collect();
    assert_eq!(soot, [(2, Some(62.0)), (1, Some(70.0)), (3, Some(62.0))]);
}

#[test]
fn another_sender_in_the_middle_is_set_aside_and_told_once() {
    let text = format!(
        "(1.000000) can0 {SOOT_62}\n(2.000000) can0 18FD7B31#0A{0}\n(3.000000) can0 18FD7B31#0B{0}\n",
        "FF".repeat(7)
    );
    problems(
        &text,
        &[
            "machine.log:2: parameter group 64891: comes from source address 49 on can0, before it from 0 on can0; this may \
           be another machine, so these lines are set aside",
        ],
    );
    let log = read(&text);
    assert_eq!(log.spans()[0].1.most, 62.0);
    assert_eq!(log.lines.ignored, [("parameter group 64891 from source address 49 on can0".to_owned(), 2)].into());
}

#[test]
fn other_frames_are_ignored_by_name() {
    let text = format!(
        "(1.000000) can0 {SOOT_62}\n(1.100000) can0 123#00\n(1.200000) can0 18FEF200#00\n(1.300000) can0 18FEF200#01\n\
         (1.400000) can0 20000004#0004000000000000\n(1.500000) can0 18FD7B00##1FF\n(1.600000) can0 18FD7B00#R\n\n# remark\n\
         (1.700000) can0 1BFD7B00#00\n"
    );
    let log = read(&text);
    assert_eq!(log.problems, []);
    let named = [
        ("CAN FD frame", 1),
        ("error frame", 1),
        ("frame of another protocol (both page bits are set)", 1),
        ("frame with an 11-bit identifier", 1),
        ("parameter group 65266", 2),
        ("remote request", 1),
    ];
    assert_eq!(log.lines.ignored, named.map(|(what, lines)| (what.to_owned(), lines)).into());
    accounted(&log, &text);
}

#[test]
fn what_the_machine_does_not_have_any_more_is_not_kept() {
    let text = "(1.000000) can0 18FD7B00#3E05FFFFFFFFFFFF\n(2.000000) can0 18FD7B00#FEFFFFFFFFFFFFFF\n\
                (3.000000) can0 18FD7B00#FCFFFFFFFFFFFFFF\n";
    let log = read(text);
    assert_eq!(
        log.readings.iter().map(|reading| reading.readout.number(3719)).collect::<Vec<_>>(),
        [Some(62.0), None, None]
    );
    assert_eq!(log.events.iter().map(|event| event.what).collect::<Vec<_>>(), [Happening::SensorError { spn: 3719 }]);
    problems(text, &["machine.log:3: SPN 3719: the value 252 has no meaning; it is taken as not available"]);
    let missing = log.last_moment().unwrap().missing;
    assert!(missing.iter().any(|missing| missing.field == "soot_percent"), "{missing:?}");
}

#[test]
fn what_happens_is_told_once_and_in_order() {
    // The lamp, a regeneration that begins and ends, the switch, and twelve minutes of silence.
    let text = "(1.000000) can0 18FD7C00#F890FFFFFFFFFFFF\n(2.000000) can0 18FD7C00#F994FFFFFFFFFFFF\n\
                (3.000000) can0 18FD7C00#F994FFFFFFFFFFFF\n(4.000000) can0 18FD7C00#F880FFFFFFFFFFFF\n\
                (5.000000) can0 18FD7C00#F880F3FFFFFFFFFF\n(740.000000) can0 18FD7C00#F880F7FFFFFFFFFF\n";
    let told: Vec<String> = read(text).events.iter().map(|event| format!("{}: {}", event.line, event.what)).collect();
    assert_eq!(
        told,
        [
            "2: the filter lamp changes from off to on",
            "2: a regeneration begins",
            "4: the filter lamp changes from on to off",
            "4: the status changes from needed lowest to not needed",
            "4: the regeneration ends",
            "6: 735 s without a word about the filter",
            "6: regeneration is held back: the inhibit switch is on",
        ]
    );
}

#[test]
fn the_last_moment_is_a_situation_with_its_gaps_named() {
    let table = "time_s,soot_percent,outlet_c,speed_rpm,load_percent,vehicle_km_per_h,park_brake,inhibit_switch,active\n\
                 0,95,180,900,5,0,yes,no,not_active\n100,,181,900,5,0,yes,no,not_active\n";
    let moment = read(table).last_moment().unwrap();
    let s = moment.situation;
    assert_eq!((s.soot_percent, s.outlet_c, s.speed_rpm), (95.0, 181.0, 900.0));
    assert!(s.standing && s.park_brake && s.engine_running && !s.inhibit_on);
    assert_eq!(moment.old, [Old { word: "soot_percent", seconds: 100.0 }]);
    let missing: Vec<&str> = moment.missing.iter().map(|missing| missing.field).collect();
    assert_eq!(
        missing,
        [
            "ash_percent",
            "engine_warm",
            "neutral",
            "ground",
            "enclosure",
            "people_near",
            "fuel_near",
            "overhead",
            "attachment_down",
            "inhibits",
            "hours_since_parked"
        ]
    );
}

/// Half a minute at 40 % and a minute at 70 % are 60 % on average; a gap and an unsaid load end a stretch.
#[test]
fn a_log_is_a_journey_of_stretches() {
    let log = read(
        "time_s,load_percent,speed_rpm\n0,,900\n10,40,1500\n40,70,1800\n100,20,1000\n110,not_available,\n120,30,1000\n\
         130,30,1000\n5000,30,1000\n",
    );
    let stretch = |from_s, seconds, load_percent, speed_rpm| Stretch { from_s, seconds, load_percent, speed_rpm };
    assert_eq!(
        log.stretches(90.0),
        [stretch(10.0, 90.0, 60.0, 1700.0), stretch(100.0, 10.0, 20.0, 1000.0), stretch(120.0, 10.0, 30.0, 1000.0)]
    );
    assert_eq!(read("load_percent,speed_rpm\n40,1500\n40,1500\n").stretches(90.0), []);
}

#[test]
fn a_brake_that_holds_back_nothing_is_not_taken_for_one_that_is_on() {
    let moment = |cell: &str| read(&format!("park_brake_off,engine_cold\n{cell},no\n")).last_moment().unwrap();
    assert!(moment("no").missing.iter().any(|missing| missing.field == "park_brake"));
    assert!(!moment("yes").situation.park_brake && moment("yes").said.contains(&"park_brake"));
    assert_eq!(InhibitReason::ParkBrakeOff.word(), "park_brake_off");
}

#[test]
fn a_log_of_another_machine_contradicts_the_profile() {
    let profile = Profile::read("good.toml", include_str!("../profile_reader/good.toml")).unwrap();
    let against = |table: &str| -> Vec<(u32, String)> {
        let problems = read(table).against("machine.csv", &profile);
        problems.into_iter().map(|problem| (problem.line, problem.field)).collect()
    };
    let active = profile.active.from_percent;
    assert_eq!(against(&format!("soot_percent,threshold_percent,filter_lamp\n10,{active},off\n")), []);
    let too_much = profile.stop_above_percent + 41.0;
    let found = against(&format!("soot_percent,threshold_percent,speed_rpm\n10,20,900\n{too_much},20,8000\n"));
    assert_eq!(found.len(), 3);
    assert_eq!(found[0], (2, "threshold_percent".to_owned()));
    assert_eq!(found[1].0 + found[2].0, 6, "soot and speed where they first contradict: {found:?}");
    assert_eq!(against("soot_percent,filter_lamp\n10,on\n"), [(2, "filter_lamp".to_owned())]);
}

#[test]
fn what_is_wrong_in_a_table_is_told_with_line_and_column() {
    problems(
        "time_s;soot_percent;fuel_l;soot_percnt;filter_lamp\n0;20;3;;on\n1;300;3;;on\n2;20;3;;bright\nsoon;20,5;3;;on\n\
         4;20\n5;20;3;;on;7\n",
        &[
            "machine.log:1: soot_percnt: nobody knows this column; did you mean \"soot_percent\"?",
            "machine.log:3: soot_percent: 300 cannot be; soot load lies between 0 and 250",
            "machine.log:4: filter_lamp: \"bright\" is no state of this signal",
            "machine.log:5: soot_percent: \"20,5\" is no number; write it with a decimal point and without a unit",
            "machine.log:5: time_s: \"soon\" is no time; write seconds, such as 12.5",
            "machine.log:6: line: is cut: 2 of 5 cells; what they say is used",
            "machine.log:7: line: 6 cells below 5 headings",
        ],
    );
}

#[test]
fn what_is_no_log_is_refused_as_a_whole() {
    for text in ["", "\n\n", "Dear all,\nthe filter is full.\n", "{\"soot_percent\": 95}"] {
        let log = read(text);
        assert_eq!((log.problems.len(), log.problems[0].line), (1, 0), "{text}");
        assert!(log.last_moment().is_none());
        accounted(&log, text);
    }
    let silent = read("(1.000000) can0 18FEF200#00\n");
    assert_eq!(silent.problems[0].message, "no line says anything about a filter or an engine");
    assert_eq!(FilterLamp::default(), FilterLamp::NotAvailable);
}

/// A line that is nearly one of a log.
fn nearly_a_line() -> impl Strategy<Value = String> {
    let id =
        prop_oneof![Just("18FD7B00"), Just("18FD7C00"), Just("0CF00400"), Just("18FEF100"), Just("123"), Just("3")];
    let compact = (0_u64..5_000_000, id.clone(), "[0-9A-FR.#_g]{0,20}")
        .prop_map(|(us, id, data)| format!("({}.{:06}) can0 {id}#{data}", us / 1_000_000, us % 1_000_000));
    let columns = (id, 0_usize..10, "[0-9A-F ]{0,26}").prop_map(|(id, n, data)| format!(" can0  {id}   [{n}]  {data}"));
    let cell = prop_oneof![Just(String::new()), "[-+0-9.e]{1,8}", "on|off|yes|error|not_available", "[^\n\r]{0,6}"];
    let row = proptest::collection::vec(cell, 0..6).prop_map(|cells| cells.join(","));
    prop_oneof![4 => compact, 2 => columns, 2 => row, 1 => "[^\n\r]{0,40}", 1 => Just(String::new())]
}

fn nearly_a_log() -> impl Strategy<Value = String> {
    let heading =
        prop_oneof![Just(""), Just("time_s,soot_percent,filter_lamp,active,spn 3246\n"), Just("\u{feff}# log\n")];
    let bytes =
        proptest::collection::vec(any::<u8>(), 0..120).prop_map(|bytes| String::from_utf8_lossy(&bytes).into_owned());
    let lines = (heading, proptest::collection::vec(nearly_a_line(), 0..20))
        .prop_map(|(h, lines)| h.to_owned() + &lines.join("\n"));
    prop_oneof![1 => bytes, 4 => lines]
}

proptest! {
    #[test]
    fn whatever_a_file_holds_every_line_is_used_ignored_or_refused(text in nearly_a_log()) {
        let log = read(&text);
        accounted(&log, &text);
        let profile = Profile::read("good.toml", include_str!("../profile_reader/good.toml")).unwrap();
        for problem in log.against("machine.log", &profile).iter().chain(&log.problems) {
            prop_assert!(problem.line as usize <= text.lines().count() && !problem.message.is_empty());
        }
        prop_assert!(log.readings.windows(2).all(|pair| pair[0].at_us <= pair[1].at_us), "in the order of time");
        if let Some(moment) = log.last_moment() {
            prop_assert_eq!(moment.situation.problems(), Vec::<String>::new());
            prop_assert_eq!(moment.said.len() + moment.missing.len(), 20);
        }
    }
}
