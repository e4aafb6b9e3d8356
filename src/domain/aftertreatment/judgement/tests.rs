//! What is permitted and what is dangerous, one decision at a time. The whole situation space is swept in `tests/bank`.

use super::*;
use crate::aftertreatment::situation::{Enclosure, Ground};
use crate::units::TemperatureUnit;

fn profile() -> Profile {
    Profile::read("good.toml", include_str!("../profile_reader/good.toml")).unwrap()
}

/// Standing, secured and warm on gravel in the open, at a soot load in percent.
fn ready(soot_percent: f64) -> Situation {
    let still =
        Situation { standing: true, park_brake: true, neutral: true, attachment_down: true, ..Situation::default() };
    Situation { soot_percent, outlet_c: 160.0, speed_rpm: 900.0, load_percent: 5.0, ground: Ground::Gravel, ..still }
}

fn permits(action: Action, situation: Situation) -> bool {
    judge(&profile(), &situation).permitted.contains(action)
}

/// Why an action is forbidden, in words; empty when it is not.
fn why(action: Action, situation: Situation) -> String {
    let ground = action.forbidden_by(&profile(), &situation);
    ground.map(|ground| ground.clause(TemperatureUnit::Celsius)).unwrap_or_default()
}

#[test]
fn a_parked_regeneration_is_started_only_where_it_is_called_for() {
    let p = profile();
    let called_for = ready(p.parked.from_percent + 1.0);
    let early = ready(p.parked.from_percent - 1.0);
    assert!(permits(Action::StartParked, called_for));
    assert!(!permits(Action::StartParked, early) && !permits(Action::StartParked, ready(20.0)));
    assert_eq!(why(Action::StartParked, early), "this band does not allow parked regeneration");
    // The machine asks for one when active ones were held back too often.
    let held_back = Situation { inhibits: p.inhibit.parked_after, ..ready(20.0) };
    assert!(permits(Action::StartParked, held_back));
    let too_soon = Situation { hours_since_parked: p.parked.min_hours_between, ..held_back };
    assert!(!permits(Action::StartParked, too_soon));
}

#[test]
fn whoever_runs_a_regeneration_stays_with_it() {
    for regeneration in [Regeneration::Active, Regeneration::Parked] {
        for soot in [10.0, 70.0, 150.0] {
            assert!(!permits(Action::LeaveUnattended, Situation { regeneration, ..ready(soot) }));
        }
    }
    assert!(permits(Action::LeaveUnattended, ready(20.0)));
}

#[test]
fn a_running_engine_is_not_left_alone_where_it_can_do_harm() {
    let p = profile();
    let indoors = Situation { enclosure: Enclosure::Closed, ..ready(20.0) };
    assert_eq!(why(Action::LeaveUnattended, indoors), "the machine stands in a closed building");
    let beyond = ready(p.stop_above_percent);
    let about_to_begin = Situation { ground: Ground::Straw, ..ready(p.active.from_percent) };
    for situation in [indoors, beyond, about_to_begin] {
        assert!(!permits(Action::LeaveUnattended, situation), "{situation:?}");
        assert!(permits(Action::LeaveUnattended, Situation { engine_running: false, ..situation }), "{situation:?}");
    }
}

#[test]
fn a_machine_is_left_alone_only_when_it_stands_secured_and_the_gas_gets_away() {
    // Common practice, no published source.
    for (situation, because) in [
        (Situation { standing: false, ..ready(20.0) }, "the machine does not stand still"),
        (Situation { park_brake: false, ..ready(20.0) }, "the park brake is off"),
        (
            Situation { enclosure: Enclosure::OpenSided, ..ready(20.0) },
            "the machine stands under a roof with open sides",
        ),
    ] {
        assert_eq!(why(Action::LeaveUnattended, situation), because);
    }
}

#[test]
fn a_hot_machine_does_not_stay_beside_what_burns() {
    // Common practice, no published source.
    let p = profile();
    let hot = Situation { outlet_c: 300.0, ..ready(20.0) };
    assert_eq!(judge(&p, &hot).route, Route::WorkOn);
    for beside in [
        Situation { ground: Ground::Straw, ..hot },
        Situation { fuel_near: true, ..hot },
        Situation { overhead: true, ..hot },
    ] {
        assert_eq!(judge(&p, &beside).route, Route::MoveFirst, "{beside:?}");
        assert_eq!(judge(&p, &Situation { outlet_c: 120.0, ..beside }).route, Route::WorkOn, "cool enough");
    }
}

#[test]
fn where_an_active_one_waits_for_heat_more_load_is_advised() {
    // Common practice, no published source.
    let p = profile();
    let due = Situation { speed_rpm: 1800.0, outlet_c: p.active.light_off_c, ..ready(p.active.from_percent) };
    assert_eq!(judge(&p, &due).route, Route::LetActiveRun);
    let cool = Situation { outlet_c: p.active.light_off_c - 5.0, ..due };
    assert_eq!(judge(&p, &cool).route, Route::WorkHarder);
    assert_eq!(judge(&p, &Situation { engine_warm: false, ..cool }).route, Route::LetActiveRun, "it warms up first");
}

#[test]
fn at_an_edge_the_numbers_say_on_which_side() {
    let p = profile();
    let clause = |soot: f64| why(Action::StartParked, ready(soot));
    assert!(clause(p.stop_above_percent).contains("(110 %) is at or above"), "{}", clause(p.stop_above_percent));
    let below = judge(&p, &ready(89.96)).reason.sentence(TemperatureUnit::Celsius);
    let why_not_parked = why_not(&p, &ready(89.96), Route::StartParked).unwrap().missing(TemperatureUnit::Celsius);
    assert_eq!(
        why_not_parked.as_deref(),
        Some("The soot load (89.96 %) is below the level from which a parked regeneration is needed (90 %)."),
        "{below}"
    );
}

#[test]
fn in_a_hazardous_place_a_regeneration_may_be_stopped() {
    for regeneration in [Regeneration::Active, Regeneration::Parked] {
        let safe = Situation { regeneration, ..ready(40.0) };
        assert!(!permits(Action::SwitchEngineOff, safe), "in a safe place it is left to finish");
        for hazardous in [
            Situation { people_near: true, ..safe },
            Situation { ground: Ground::Straw, ..safe },
            Situation { enclosure: Enclosure::Closed, ..safe },
        ] {
            assert!(permits(Action::SwitchEngineOff, hazardous), "{hazardous:?}");
        }
    }
}

#[test]
fn more_load_is_not_advised_where_heat_can_hurt() {
    let p = profile();
    let light =
        Situation { soot_percent: p.passive.advise_from_percent + 1.0, outlet_c: 130.0, ..Situation::default() };
    assert_eq!(judge(&p, &light).route, Route::WorkHarder);
    let on_stubble = Situation { ground: Ground::Stubble, ..light };
    assert_eq!(judge(&p, &on_stubble).route, Route::WorkOn);
    assert!(permits(Action::RaiseLoad, light) && !permits(Action::RaiseLoad, on_stubble));
    assert_eq!(why(Action::RaiseLoad, on_stubble), "the machine stands on stubble");
}

#[test]
fn the_stop_level_itself_is_already_beyond_it() {
    let p = profile();
    for (soot, beyond) in [(p.stop_above_percent - 0.1, false), (p.stop_above_percent, true)] {
        let judgement = judge(&p, &ready(soot));
        assert_eq!(judgement.hazards.contains(Hazard::OverloadedFilter), beyond, "{soot}");
        assert_eq!(judgement.route == Route::StopAndCall, beyond, "{soot}");
        assert_eq!(judgement.lamps.contains(Lamp::Stop), beyond, "{soot}");
        assert_eq!(p.bands[judgement.band].from_percent == p.stop_above_percent, beyond, "{soot}");
    }
}

#[test]
fn a_regeneration_that_is_due_is_a_hazard_before_it_begins() {
    let p = profile();
    let near = |soot: f64| Situation { people_near: true, ground: Ground::DryGrass, ..ready(soot) };
    let present = |situation: Situation| {
        let hazards = judge(&p, &situation).hazards;
        (hazards.contains(Hazard::Fire), hazards.contains(Hazard::PeopleAtOutlet))
    };
    assert_eq!(present(near(20.0)), (false, false), "cold and nothing due");
    assert_eq!(present(near(p.active.from_percent)), (true, true), "an active one is due");
    assert_eq!(present(near(p.parked.from_percent)), (true, true), "a parked one is due");
    assert_eq!(present(Situation { regeneration: Regeneration::Active, ..near(20.0) }), (true, true));
    assert_eq!(present(Situation { outlet_c: 300.0, ..near(20.0) }), (true, true), "hot from work");
    assert_eq!(present(ready(p.parked.from_percent)), (false, false), "nothing there burns, nobody is near");
}

#[test]
fn a_place_that_is_not_safe_is_not_called_safe() {
    let p = profile();
    let on_straw = Situation { ground: Ground::Straw, inhibit_on: true, ..ready(20.0) };
    let finding = why_not(&p, &on_straw, Route::ReleaseInhibit).unwrap();
    let missing = finding.missing(TemperatureUnit::Celsius);
    assert_eq!(missing.as_deref(), Some("The place is not safe for hot gas."));
    let on_gravel = why_not(&p, &ready(95.0), Route::MoveFirst).unwrap();
    assert_eq!(on_gravel.missing(TemperatureUnit::Celsius).as_deref(), Some("The place is not hazardous."));
}

#[test]
fn a_balance_without_meaning_is_said_in_words() {
    let p = profile();
    let cold = Situation { soot_percent: p.passive.advise_from_percent + 1.0, outlet_c: 20.0, ..Situation::default() };
    let judgement = judge(&p, &cold);
    assert!(crate::aftertreatment::kinetics::balance_percent(&p, &cold) > 1000.0);
    let because = judgement.reason.sentence(TemperatureUnit::Celsius);
    assert!(because.contains("would settle (beyond any level) is at or above"), "{because}");
}
