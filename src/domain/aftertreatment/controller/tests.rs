//! The signals of every state, held against the values of the standard, and the state machine's own order.

use super::*;
use crate::aftertreatment::lamp::Lamp;
use signals::{signal, signals};

fn profile() -> Profile {
    let text = include_str!("../../../../tests/reference/common_practice.toml");
    Profile::read("common_practice.toml", text).expect("the test profile is whole")
}

const WORK: Situation = Situation {
    soot_percent: 50.0,
    ash_percent: 10.0,
    outlet_c: 235.0,
    engine_running: true,
    speed_rpm: 1600.0,
    load_percent: 40.0,
    engine_warm: true,
    standing: false,
    park_brake: false,
    neutral: false,
    attachment_down: false,
    inhibit_on: false,
    inhibits: 0,
    regeneration: Regeneration::None,
    hours_since_parked: 100.0,
    ground: crate::aftertreatment::situation::Ground::BareSoil,
    enclosure: crate::aftertreatment::situation::Enclosure::Open,
    people_near: false,
    fuel_near: false,
    overhead: false,
};

/// The signals that are not 0 in the state that these readings lead to.
#[track_caller]
fn check(s: &Situation, expected: &[(u16, u8)]) {
    let profile = profile();
    let state = State::of(&profile, s);
    let shown: Vec<(u16, u8)> = signals(&profile, s, state)
        .iter()
        .filter(|signal| signal.value != 0)
        .map(|signal| (signal.spn, signal.value))
        .collect();
    assert_eq!(shown, expected, "{state:?}");
}

// Source: SAE J1939-71/-73, PGN 64892, as public decoders show it: 3697 0 off, 1 on, 4 blinking; 3698 0/1; 3699 0/1;
// 3700 0 no, 1 yes, 2 needed; 3701 0 to 3; 3702, 3703, 3710, 3711, 3715, 3716 0/1.
#[test]
fn every_state_shows_the_values_of_the_standard() {
    check(&WORK, &[]);
    check(&Situation { outlet_c: 300.0, ..WORK }, &[(3699, 1)]);
    check(&Situation { outlet_c: 460.0, ..WORK }, &[(3698, 1), (3699, 1)]);
    let due = Situation { soot_percent: 78.0, ..WORK };
    check(&due, &[(3697, 1), (3700, 2), (3701, 1)]);
    check(&Situation { speed_rpm: 900.0, ..due }, &[(3697, 1), (3700, 2), (3701, 1), (3702, 1)]);
    check(&Situation { inhibit_on: true, ..due }, &[(3697, 1), (3700, 2), (3701, 1), (3702, 1), (3703, 1)]);
    check(&Situation { outlet_c: 120.0, ..due }, &[(3697, 1), (3700, 2), (3701, 1), (3702, 1), (3711, 1)]);
    check(&Situation { engine_warm: false, ..due }, &[(3697, 1), (3700, 2), (3701, 1), (3702, 1), (3716, 1)]);
    let active = Situation { regeneration: Regeneration::Active, outlet_c: 590.0, ..due };
    check(&active, &[(3697, 1), (3698, 1), (3700, 1), (3701, 1)]);
    let needed = Situation { soot_percent: 95.0, ..WORK };
    check(&needed, &[(3697, 4), (3700, 2), (3701, 2), (3702, 1), (3710, 1)]);
    let ready = Situation { standing: true, park_brake: true, neutral: true, ..needed };
    check(&ready, &[(3697, 4), (3700, 2), (3701, 2)]);
    let parked = Situation { regeneration: Regeneration::Parked, soot_percent: 20.0, outlet_c: 600.0, ..ready };
    check(&parked, &[(3698, 1), (3700, 1)]);
    let beyond = Situation { soot_percent: 121.0, ..ready };
    check(&beyond, &[(3697, 4), (3700, 2), (3701, 3), (3702, 1), (3715, 1)]);
}

#[test]
fn only_signals_about_the_filter_have_a_value() {
    let profile = profile();
    assert_eq!(signal(&profile, &WORK, State::NotNeeded, 3700), Some(0));
    assert_eq!(signal(&profile, &WORK, State::NotNeeded, 190), None, "engine speed is not the filter's");
}

#[test]
fn the_signal_lamps_are_the_panels_lamps() {
    let profile = profile();
    for soot_percent in [50.0, 78.0, 95.0, 121.0] {
        for outlet_c in [200.0, 470.0] {
            let s = Situation { soot_percent, outlet_c, ..WORK };
            let state = State::of(&profile, &s);
            let lit = super::super::judgement::lamps(&profile, &s);
            assert_eq!(signal(&profile, &s, state, 3697) != Some(0), lit.contains(Lamp::Filter));
            assert_eq!(signal(&profile, &s, state, 3698) == Some(1), lit.contains(Lamp::ExhaustHot));
        }
    }
}

#[test]
fn settling_twice_changes_nothing_more() {
    let profile = profile();
    for soot_percent in [0.0, 50.0, 77.0, 95.0, 121.0] {
        for inhibit_on in [false, true] {
            let mut s = Situation { soot_percent, inhibit_on, ..WORK };
            let mut controller = Controller::new(&profile, &s);
            let mut told = Vec::new();
            controller.settle(&profile, &mut s, &mut told);
            let settled = (controller.clone(), s);
            told.clear();
            controller.settle(&profile, &mut s, &mut told);
            assert_eq!((controller, s), settled);
            assert!(told.is_empty(), "{told:?}");
        }
    }
}
