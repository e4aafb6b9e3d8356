//! A good file and every way to break it that the reader must notice.

use super::read;
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::profile::{Coating, Way};
use crate::aftertreatment::situation::Interlock;
use proptest::prelude::*;

const GOOD: &str = include_str!("good.toml");

/// The problems of the good file with one text put for another, as `field: message`.
fn problems(changes: &[(&str, &str)]) -> Vec<String> {
    let mut text = GOOD.to_owned();
    for (from, to) in changes {
        assert_eq!(text.matches(from).count(), 1, "{from:?} must stand once in the good file");
        text = text.replace(from, to);
    }
    let found = read("test-1.toml", &text).expect_err("the file is broken");
    found.into_iter().map(|problem| format!("{}: {}", problem.field, problem.message)).collect()
}

/// One change makes exactly one problem.
fn check(from: &str, to: &str, expected: &str) {
    assert_eq!(problems(&[(from, to)]), [expected], "{from:?} -> {to:?}");
}

/// Those of the good file, in its order.
const INTERLOCKS: [Interlock; 5] =
    [Interlock::Standing, Interlock::ParkBrake, Interlock::Neutral, Interlock::EngineRunning, Interlock::InhibitOff];

#[test]
fn the_good_file_is_read_whole() {
    let profile = read("test-1.toml", GOOD).unwrap();
    assert_eq!((profile.id.as_str(), profile.kind.as_str()), ("test-1", "test machine"));
    assert_eq!(profile.filter.coating, Coating::Catalysed);
    assert!((profile.filter.full_load_g() - 50.0).abs() < 1e-12);
    assert!((profile.soot_mg_per_s.at(50.0, 1400.0).value - 0.3).abs() < 1e-12);
    assert!((profile.outlet_c.at(100.0, 2000.0).value - 500.0).abs() < 1e-9, "932 °F are 500 °C");
    assert!((profile.active.minutes - 30.0).abs() < 1e-12, "0.5 h are 30 min");
    assert_eq!(profile.parked.interlocks, INTERLOCKS);
    assert_eq!(profile.band(90.0).id, "very_high", "an edge belongs to the band above it");
    assert!((profile.thermal.cooling_s - 1200.0).abs() < 1e-9, "20 min are 1200 s");
    assert!((profile.engine.cold_after_s - 7200.0).abs() < 1e-9, "2 h are 7200 s");
    assert_eq!(
        (profile.active.slow_for_s, profile.parked.speed_rpm, profile.inhibit.power_percent),
        (60.0, 1200.0, 85.0)
    );
    assert_eq!(profile.band(500.0).id, "extreme");
    assert!(profile.band(0.0).allows(Way::Passive));
    assert_eq!(profile.bands[3].lamps.iter().collect::<Vec<_>>(), [Lamp::Filter, Lamp::Stop]);
    assert_eq!((profile.lamps.len(), profile.procedure.len(), profile.cautions.len()), (5, 1, 6));
}

#[test]
fn numbers_without_or_with_the_wrong_unit_are_named() {
    let volume = "volume = \"10 L\"";
    let write = "write a number with its unit, such as \"17.0 L\"";
    check(volume, "volume = \"10\"", &format!("filter.volume: \"10\" has no unit; {write}"));
    check(volume, "volume = 10", &format!("filter.volume: \"10\" has no unit; {write}"));
    check(volume, "volume = \"10 h\"", &format!("filter.volume: \"10 h\" is a time, not a volume; {write}"));
    check(volume, "volume = \"ten L\"", &format!("filter.volume: \"ten L\" does not begin with a number; {write}"));
    check(volume, "volume = true", &format!("filter.volume: true is not a number; {write}"));
    check(volume, "", &format!("filter.volume: this is missing; {write}"));
    check(volume, "volume = \"-3 L\"", "filter.volume: -3 L is out of range; write 0.5 L to 100 L");
    check(
        "flow = \"0.1 0.3 mg/s\"",
        "flow = \"0.1 0.3\"",
        "soot.rows[1].flow: \"0.1 0.3\" has no unit; write a number with its unit, such as \"0.62 mg/s\"",
    );
}

#[test]
fn words_nobody_knows_get_a_suggestion() {
    check(
        "volume = \"10 L\"",
        "volume = \"10 L\"\nvolum = \"1 L\"",
        "filter.volum: nobody knows the field \"volum\"; did you mean \"volume\"?",
    );
    check(
        "\"catalysed\"",
        "\"catalyst\"",
        "filter.coating: \"catalyst\" is not known here; did you mean \"catalysed\"?",
    );
    check(
        "\"neutral\"",
        "\"netural\"",
        "parked.interlocks[3]: \"netural\" is not known here; did you mean \"neutral\"?",
    );
    check(
        "inhibit = \"Held back.\"",
        "inhibit = \"Held back.\"\nhorn = \"Noise.\"",
        "lamps.horn: nobody knows the field \"horn\"; known here: exhaust_hot, filter, inhibit, stop, warning",
    );
    check(
        "id = \"test-1\"",
        "id = \"Test 1\"",
        "id: \"Test 1\" cannot be part of an address; use a-z, 0-9 and -, such as \"tarrel-60\"",
    );
    check("kind = \"test machine\"", "kind = \"\"", "kind: this is empty; write something or leave the field out");
}

#[test]
fn bands_must_tile_the_range() {
    check(
        "from = \"70 %\"\nto = \"90 %\"",
        "from = \"72 %\"\nto = \"90 %\"",
        "band[2].from: there is a gap: \"low\" ends at 70 % and \"high\" starts at 72 %; both must be the same",
    );
    check(
        "from = \"70 %\"\nto = \"90 %\"",
        "from = \"65 %\"\nto = \"90 %\"",
        "band[2].from: there is an overlap: \"low\" ends at 70 % and \"high\" starts at 65 %; both must be the same",
    );
    check("from = \"0 %\"", "from = \"5 %\"", "band[1].from: the first band starts at 5 %; it must start at 0 %");
    check(
        "from = \"110 %\"",
        "from = \"110 %\"\nto = \"200 %\"",
        "band[4].to: the last band goes on without end; leave \"to\" out, or add the band above it",
    );
    check("id = \"very_high\"", "id = \"high\"", "band[3].id: another band is called \"high\"; give each its own word");
    check(
        "power = \"40 %\"",
        "power = \"80 %\"",
        "band[4].power: more soot cannot give more power: 80 % here, 70 % in \"very_high\"",
    );
}

#[test]
fn ways_and_levels_must_agree() {
    check(
        "ways = [\"passive\", \"active\"]",
        "ways = [\"passive\"]",
        "band[2].ways: [active] runs from 70 % to 80 %, but \"high\" does not allow it; add \"active\"",
    );
    check(
        "ways = [\"parked\", \"service\"]",
        "ways = [\"service\"]",
        "band[3].ways: [parked] runs from 90 % to 110 %, but \"very_high\" does not allow it; add \"parked\"",
    );
    check(
        "above = \"110 %\"",
        "above = \"100 %\"",
        "stop.above: the stop level, 100 %, lies inside the parked range, which ends at 110 %",
    );
    check(
        "above = \"110 %\"",
        "above = \"85 %\"",
        "stop.above: the stop level, 85 %, lies below the parked range, which ends at 110 %",
    );
    check(
        "above = \"110 %\"",
        "above = \"115 %\"",
        "stop.above: no band begins at the stop level, 115 %; let one begin there",
    );
    check(
        "lamps = [\"filter\", \"stop\"]",
        "lamps = [\"filter\"]",
        "band[4].lamps: the machine must not be used here; light \"stop\"",
    );
    check(
        "lamps = [\"filter\", \"warning\"]",
        "lamps = [\"filter\", \"stop\"]",
        "band[3].lamps: \"stop\" is for 110 % and above; take it out",
    );
    check(
        "advise_from = \"60 %\"",
        "advise_from = \"70 %\"",
        "passive.advise_from: 70 % must be below where active cleaning begins, 70 %",
    );
    check("by = \"80 %\"", "by = \"95 %\"", "active.by: 95 % must be at most where parked cleaning begins, 90 %");
    check("from = \"70 %\"\nby", "from = \"82 %\"\nby", "active.from: 82 % must be below active.by, 80 %");
    check(
        "unless_above = \"85 %\"",
        "unless_above = \"95 %\"",
        "parked.unless_above: 95 % must be at most parked.from, 90 %",
    );
    check(
        "derate_after = 2",
        "derate_after = 4",
        "inhibit.derate_after: 4 times must be below inhibit.parked_after, 4 times",
    );
}

#[test]
fn nothing_lies_between_parked_cleaning_and_the_stop_level() {
    let between = "id = \"between\"\nname = \"between\"\nfrom = \"100 %\"\nto = \"110 %\"\nlamps = [\"filter\", \"warning\"]\n\
        ways = [\"service\"]\npower = \"50 %\"\n\n[[band]]\nid = \"extreme\"";
    assert_eq!(
        problems(&[
            ("to = \"110 %\"\nlamps", "to = \"100 %\"\nlamps"),
            ("id = \"extreme\"", between),
            ("to = \"110 %\"\nshortest", "to = \"100 %\"\nshortest"),
        ]),
        ["stop.above: parked cleaning ends at 100 %, and nothing but service helps beyond; write 100 %"]
    );
}

#[test]
fn service_alone_is_open_beyond_the_stop_level() {
    assert_eq!(
        problems(&[("ways = [\"service\"]", "ways = [\"parked\", \"service\"]")]),
        [
            "band[4].ways: \"extreme\" allows parked cleaning beyond 110 %, where parked.to ends it",
            "band[4].ways: from the stop level, 110 %, only service is open; write [\"service\"]",
        ]
    );
}

#[test]
fn heat_and_speed_must_be_possible() {
    check(
        "exhaust_hot_at = \"450 °C\"",
        "exhaust_hot_at = \"605 °C\"",
        "outlet.exhaust_hot_at: 605 °C must be below active.temperature, 600 °C",
    );
    check(
        "gas_up_to = \"620 °C\"",
        "gas_up_to = \"500 °C\"",
        "active.gas_up_to: gas of at most 500 °C cannot leave a filter that is held at 600 °C",
    );
    check(
        "temperature = \"100 300 650 °C\"",
        "temperature = \"100 300 600 °C\"",
        "no2.temperature: the curve goes from 100 °C to 600 °C, but the outlet also has 610 °C; widen it",
    );
    check(
        "temperature = \"392 932 °F\"",
        "temperature = \"392 932 1000 °F\"",
        "outlet.rows: the row at 2000 rpm has 3 values, but load has 2 points",
    );
    check(
        "shortest = \"30 min\"",
        "shortest = \"50 min\"",
        "parked.shortest: 50 min must be at most parked.longest, 45 min",
    );
    assert_eq!(
        problems(&[("min_speed = \"1500 rpm\"", "min_speed = \"2500 rpm\"")]),
        [
            "active.min_speed: 2500 rpm must lie inside the [outlet] map, which goes from 800 to 2000 rpm",
            "active.min_speed: 2500 rpm must lie inside the [soot] map, which goes from 800 to 2000 rpm",
        ]
    );
}

#[test]
fn a_regeneration_must_get_hot_in_time_and_end_clean() {
    check(
        "rise = \"100 s\"",
        "rise = \"700 s\"",
        "active.rise: with 700 s it is not hot in time; 3 times that must fit into active.duration, 30 min",
    );
    check(
        "rise = \"120 s\"",
        "rise = \"11 min\"",
        "parked.rise: with 660 s it is not hot in time; 3 times that must fit into parked.shortest, 30 min",
    );
    check(
        "speed = \"1200 rpm\"",
        "speed = \"2200 rpm\"",
        "parked.speed: 2200 rpm must lie inside the [soot] map, which goes from 800 to 2000 rpm",
    );
    check(
        "light_off = \"160 °C\"",
        "light_off = \"100 °C\"",
        "active.light_off: 100 °C is out of range; write 150 °C to 350 °C",
    );
    check(
        "service_after = \"4000 h\"",
        "",
        "ash.service_after: this is missing; write a number with its unit, such as \"50 h\"",
    );
    check(
        "time_constant = \"120 s\"",
        "time_constant = \"120 °C\"",
        "outlet.time_constant: \"120 °C\" is a temperature, not a time; write a number with its unit, such as \"90 s\"",
    );
}

#[test]
fn people_must_be_told_everything() {
    check(
        "stop = \"Stop.\"",
        "",
        "lamps.stop: the red stop lamp can be lit, but nothing says what it means; add stop = \"...\"",
    );
    assert_eq!(
        problems(&[("hazard = \"dust\"", "hazard = \"fire\"")]),
        [
            "caution: the hazard \"dust\" has no caution; write a [[caution]] for it",
            "caution[6].hazard: \"fire\" has a caution already; leave one",
        ]
    );
    check("reason = \"It helps.\"", "", "step[1].reason: this is missing; write a text in quotes");
    check(
        "critical = true",
        "critical = false",
        "step: no step is critical; write critical = true where leaving it out can hurt someone",
    );
    check(
        "signal = \"notice\"",
        "signal = \"hint\"",
        "caution[6].signal: \"hint\" is not known here; known are danger, warning, caution, notice",
    );
    check(
        "\"park_brake\", ",
        "",
        "parked.interlocks: parked cleaning must not start with the park brake off; add \"park_brake\"",
    );
    check(
        "\"standing\", ",
        "",
        "parked.interlocks: parked cleaning must not start while the machine moves; add \"standing\"",
    );
    check(
        "\"engine_running\", ",
        "",
        "parked.interlocks: parked cleaning must not start with the engine off; add \"engine_running\"",
    );
    check(
        ", \"inhibit_off\"",
        "",
        "parked.interlocks: parked cleaning must not start while the inhibit switch is on; add \"inhibit_off\"",
    );
}

#[test]
fn five_faults_are_five_problems_each_at_its_line() {
    let text = GOOD
        .replace("volume = \"10 L\"", "volume = \"-3 L\"")
        .replace("id = \"very_high\"", "id = \"Very high\"")
        .replace("min_speed = \"1500 rpm\"", "min_speed = 1500")
        .replace("inhibit = \"Held back.\"", "")
        .replace("derate_after = 2", "derate_after = 9");
    let found = read("test-1.toml", &text).unwrap_err();
    let places: Vec<_> = found.iter().map(|problem| (problem.line, problem.field.as_str())).collect();
    let line_of = |start: &str| 1 + text.lines().position(|line| line.starts_with(start)).unwrap() as u32;
    assert_eq!(
        places,
        [
            (line_of("volume"), "filter.volume"),
            (line_of("[lamps]"), "lamps.inhibit"),
            (line_of("id = \"Very high\""), "band[3].id"),
            (line_of("min_speed"), "active.min_speed"),
            (line_of("derate_after"), "inhibit.derate_after"),
        ]
    );
}

#[test]
fn an_empty_file_lacks_everything_and_nothing_panics() {
    let found = read("empty.toml", "").unwrap_err();
    let fields: Vec<_> = found.iter().map(|problem| problem.field.as_str()).collect();
    for field in
        ["id", "filter", "soot", "outlet", "no2", "lamps", "band", "active", "parked", "stop", "step", "caution"]
    {
        assert!(fields.contains(&field), "{field} is missing from {fields:?}");
    }
}

#[test]
fn broken_toml_is_named_with_its_line_and_loses_no_other_problem() {
    let text = GOOD.replace("name = \"Test 1\"", "name = \"Test 1").replace("volume = \"10 L\"", "volume = \"10\"");
    let found = read("test-1.toml", &text).unwrap_err();
    assert!(
        found.iter().any(|problem| problem.line == 3 && problem.message.starts_with("this is not TOML")),
        "{found:?}"
    );
    assert!(found.iter().any(|problem| problem.field == "filter.volume"), "{found:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever a trainer's editor leaves behind is read or refused with a reason.
    #[test]
    fn a_damaged_file_is_refused_with_reasons_and_never_panics(at in 0..GOOD.len(), length in 0_usize..40, put in "[-=\\[\\]{}\"#a-z0-9 %\n°]{0,6}") {
        let from = (0..=at).rev().find(|at| GOOD.is_char_boundary(*at)).unwrap();
        let to = (from + length..GOOD.len()).find(|at| GOOD.is_char_boundary(*at)).unwrap_or(GOOD.len());
        let text = format!("{}{put}{}", &GOOD[..from], &GOOD[to..]);
        if let Err(problems) = read("test-1.toml", &text) {
            prop_assert!(!problems.is_empty(), "refused without a reason");
            prop_assert!(problems.iter().all(|problem| problem.line as usize <= text.lines().count() + 1));
        }
    }
}
