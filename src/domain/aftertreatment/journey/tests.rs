//! What happens on journeys through the test profile of common practice: which events, in which order, for which reason.

use super::*;
use crate::aftertreatment::happening::Hindrance;
use crate::aftertreatment::judgement::Route;
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::situation::{Interlock, Regeneration};
use OperatorAction::{
    BreakOffParked, InhibitOff, InhibitOn, KeyOff, KeyOn, NeutralOn, ParkBrakeOff, ParkBrakeOn, Stand, StartParked,
};

fn profile() -> Profile {
    let text = include_str!("../../../../tests/reference/common_practice.toml");
    Profile::read("common_practice.toml", text).expect("the test profile is whole")
}

fn start(soot_percent: f64) -> Situation {
    Situation { soot_percent, outlet_c: 235.0, speed_rpm: 1600.0, load_percent: 40.0, ..Situation::default() }
}

fn work(minutes: f64) -> Stretch {
    Stretch::work(&profile(), minutes, 40.0, 1600.0)
}

fn slow(minutes: f64) -> Stretch {
    Stretch::work(&profile(), minutes, 20.0, 1000.0)
}

fn make(start: &Situation, duty: &[Stretch]) -> Journey {
    Journey::make(&profile(), start, duty)
}

/// What happened besides lamps and bands, without the operator's own actions.
fn course(journey: &Journey) -> Vec<Happening> {
    let seen = |happening: &Happening| {
        use Happening::{Band, Did, LampOff, LampOn};
        !matches!(happening, Did(_) | Band { .. } | LampOn(_) | LampOff(_))
    };
    journey.events.iter().map(|event| event.happening).filter(seen).collect()
}

fn minutes_of(journey: &Journey, wanted: Happening) -> f64 {
    let event = journey.events.iter().find(|event| event.happening == wanted);
    event.unwrap_or_else(|| panic!("{wanted:?} is not in {:?}", course(journey))).point.seconds / 60.0
}

// Common practice, no published source: active cleaning begins by itself at about 77 %, holds about 600 deg C for about half
// an hour, and leaves virtually nothing.
#[test]
fn an_active_regeneration_begins_by_itself_and_runs_to_its_end() {
    let journey = make(&start(76.5), &[work(180.0)]);
    assert_eq!(
        course(&journey),
        [Happening::Started(Regeneration::Active), Happening::Completed(Regeneration::Active)]
    );
    let [begun, ended] = [Happening::Started(Regeneration::Active), Happening::Completed(Regeneration::Active)]
        .map(|what| minutes_of(&journey, what));
    assert!((ended - begun - 30.0).abs() < 1e-6, "{begun} to {ended}");
    assert!((journey.at(begun * 60.0).situation.soot_percent - 77.0).abs() < 1e-9);
    let last = journey.at(ended * 60.0 - 1.0).situation;
    assert!((last.outlet_c - 600.0).abs() < 0.1 && last.soot_percent < 1.0, "{last:?}");
    assert!((journey.costs.fuel_l - profile().active.fuel_l).abs() < 1e-9);
    assert_eq!(journey.end.situation.inhibits, 0);
}

// Common practice, no published source: it does not run below about 1500 rpm.
#[test]
fn too_low_a_speed_keeps_it_waiting_and_breaks_it_off() {
    let idle = make(&start(77.5), &[slow(20.0), work(60.0)]);
    let waits = Happening::Waits(Regeneration::Active, Hindrance::TooSlow);
    let started = Happening::Started(Regeneration::Active);
    assert_eq!(course(&idle), [waits, started, Happening::Completed(Regeneration::Active)]);
    assert!((minutes_of(&idle, started) - 20.0).abs() < 1.0, "as soon as it is hot enough to light");
    let dropped = make(&start(77.0), &[work(5.0), slow(5.0), work(90.0)]);
    let broken = Happening::Interrupted(Regeneration::Active, Hindrance::TooSlow);
    assert_eq!(course(&dropped)[..2], [started, broken]);
    let grace = profile().active.slow_for_s / 60.0;
    assert!((minutes_of(&dropped, broken) - 5.0 - grace).abs() < 1e-6);
    assert_eq!(dropped.end.situation.inhibits, 1, "one broken off");
}

#[test]
fn it_is_tried_again_after_a_pause() {
    // Chosen by the profile: 30 min between two tries. Twelve seconds of rise burn little, so it is still due.
    let journey = make(&start(78.9), &[work(0.2), work(1.0).with(KeyOff), work(120.0).with(KeyOn)]);
    let started = Happening::Started(Regeneration::Active);
    let broken = Happening::Interrupted(Regeneration::Active, Hindrance::EngineOff);
    let completed = Happening::Completed(Regeneration::Active);
    let [off, pause] =
        [Hindrance::EngineOff, Hindrance::Pause].map(|hindrance| Happening::Waits(Regeneration::Active, hindrance));
    assert_eq!(course(&journey), [started, broken, off, pause, started, completed]);
    let tries: Vec<f64> =
        journey.events.iter().filter(|event| event.happening == started).map(|event| event.point.seconds).collect();
    assert!((tries[1] / 60.0 - minutes_of(&journey, pause) - 30.0).abs() < 1e-6, "{tries:?}");
}

// Common practice, no published source: leaning on the switch costs power first, and then only a parked regeneration helps.
#[test]
fn holding_back_is_counted_and_costs_power() {
    let journey = make(&start(77.0), &[work(200.0).with(InhibitOn)]);
    let counts: Vec<u32> = journey
        .events
        .iter()
        .filter_map(|event| if let Happening::HeldBack(count) = event.happening { Some(count) } else { None })
        .collect();
    assert_eq!(counts, [1, 2, 3, 4, 5]);
    let lost = Happening::Power { from_percent: 100.0, to_percent: 80.0 };
    assert!((minutes_of(&journey, lost) - minutes_of(&journey, Happening::HeldBack(3))).abs() < 1e-9);
    let asked = Happening::Waits(Regeneration::Parked, Hindrance::Interlock(Interlock::Standing));
    assert!((minutes_of(&journey, asked) - minutes_of(&journey, Happening::HeldBack(5))).abs() < 1e-9);
    assert!(journey.judgement(&profile()).derated);
}

#[test]
fn a_released_switch_lets_it_begin_at_once_and_completion_forgets_the_count() {
    let journey = make(&start(77.0), &[work(5.0).with(InhibitOn), work(60.0).with(InhibitOff)]);
    assert!((minutes_of(&journey, Happening::Started(Regeneration::Active)) - 5.0).abs() < 1e-6);
    assert_eq!(journey.end.situation.inhibits, 0);
}

#[test]
fn switching_the_engine_off_breaks_it_off() {
    let journey = make(&start(77.0), &[work(10.0), work(30.0).with(KeyOff), work(30.0).with(KeyOn)]);
    let broken = Happening::Interrupted(Regeneration::Active, Hindrance::EngineOff);
    assert!((minutes_of(&journey, broken) - 10.0).abs() < 1e-9);
    let (off, on) = (journey.at(610.0).situation, journey.at(2390.0).situation);
    assert!(!off.engine_running && on.outlet_c < off.outlet_c, "it cools");
    assert_eq!(off.soot_percent, on.soot_percent, "nothing comes and nothing burns");
    assert!((journey.costs.engine_minutes - 40.0).abs() < 1e-9 && (journey.costs.minutes - 70.0).abs() < 1e-9);
}

#[test]
fn a_machine_that_stood_overnight_is_cold_and_its_filter_waits() {
    let journey = make(&start(77.5), &[work(600.0).with(KeyOff), work(60.0).with(KeyOn)]);
    let cold = Happening::Waits(Regeneration::Active, Hindrance::EngineCold);
    assert!((minutes_of(&journey, cold) - 600.0).abs() < 1e-9);
    let warm = profile().engine.warm_after_s / 60.0;
    assert!(minutes_of(&journey, Happening::Started(Regeneration::Active)) >= 600.0 + warm - 1e-6);
}

fn parked_ready(soot_percent: f64) -> Situation {
    Situation { standing: true, park_brake: true, neutral: true, attachment_down: true, ..start(soot_percent) }
}

// Common practice, no published source: at 80 to 120 % the operator starts a parked regeneration; it takes 30 to 45 min.
#[test]
fn a_parked_regeneration_is_asked_for_started_and_completed() {
    let journey =
        make(&start(95.0), &[slow(2.0).with(Stand).with(ParkBrakeOn).with(NeutralOn), slow(60.0).with(StartParked)]);
    let asked = Happening::Waits(Regeneration::Parked, Hindrance::Interlock(Interlock::Standing));
    let (started, completed) = (Happening::Started(Regeneration::Parked), Happening::Completed(Regeneration::Parked));
    assert_eq!(course(&journey)[0], Happening::AsksForParked, "everything was done before anybody looked");
    assert!(!course(&journey).contains(&asked));
    let took = minutes_of(&journey, completed) - minutes_of(&journey, started);
    assert!((30.0 - 1e-6..=45.0 + 1e-6).contains(&took), "{took} min");
    assert!(journey.end.situation.soot_percent < 5.0 && journey.end.situation.hours_since_parked < 1.0);
    assert!(journey.costs.parked_minutes > 29.9 && journey.costs.burnt_parked_g > 0.0);
    assert_eq!(journey.judgement(&profile()).route, Route::WorkOn);
}

#[test]
fn each_open_interlock_blocks_the_start_and_says_so() {
    for interlock in profile().parked.interlocks {
        let mut open = parked_ready(95.0);
        let mut duty = vec![slow(1.0).with(StartParked)];
        match interlock {
            Interlock::Standing => open.standing = false,
            Interlock::ParkBrake => open.park_brake = false,
            Interlock::Neutral => open.neutral = false,
            Interlock::EngineRunning => duty[0].speed_rpm = 0.0,
            Interlock::EngineWarm => open.engine_warm = false,
            Interlock::AttachmentDown => open.attachment_down = false,
            Interlock::InhibitOff => open.inhibit_on = true,
        }
        let journey = make(&open, &duty);
        assert!(course(&journey).contains(&Happening::Refused(Hindrance::Interlock(interlock))), "{interlock:?}");
    }
}

#[test]
fn an_interlock_that_opens_breaks_a_parked_regeneration_off_and_so_does_the_operator() {
    for (action, why) in
        [(ParkBrakeOff, Hindrance::Interlock(Interlock::ParkBrake)), (BreakOffParked, Hindrance::Operator)]
    {
        let journey = make(&parked_ready(95.0), &[slow(10.0).with(StartParked), slow(1.0).with(action)]);
        assert!((minutes_of(&journey, Happening::Interrupted(Regeneration::Parked, why)) - 10.0).abs() < 1e-9);
    }
}

// Common practice, no published source: 50 h between two parked regenerations, or more than 77 %.
#[test]
fn too_few_hours_refuse_it_at_little_soot() {
    let refused = |soot_percent, hours_since_parked| {
        let ready = Situation { hours_since_parked, ..parked_ready(soot_percent) };
        course(&make(&ready, &[slow(0.5).with(StartParked)])).contains(&Happening::Refused(Hindrance::TooFewHours))
    };
    assert!(refused(70.0, 49.0) && !refused(70.0, 51.0) && !refused(78.0, 1.0));
}

// Common practice, no published source: above 120 % the machine must not be used and only service helps.
#[test]
fn beyond_the_stop_level_only_service_is_open() {
    let journey = make(&parked_ready(119.9), &[slow(60.0), slow(1.0).with(StartParked)]);
    assert!(course(&journey).contains(&Happening::ServiceOnly));
    assert!(course(&journey).contains(&Happening::Refused(Hindrance::ServiceOnly)));
    assert_eq!(journey.end.state, State::ServiceOnly);
    assert!(journey.end.situation.soot_percent > 120.0);
    assert_eq!(journey.judgement(&profile()).route, Route::StopAndCall);
    assert!(journey.events.iter().any(|event| event.happening == Happening::LampOn(Lamp::Stop)));
}

#[test]
fn bands_and_power_are_met_at_their_edges_to_the_second() {
    let journey = make(&Situation { inhibit_on: true, ..start(60.0) }, &[slow(60.0 * 60.0)]);
    let edges: Vec<f64> = journey
        .events
        .iter()
        .filter(|event| matches!(event.happening, Happening::Band { .. }))
        .map(|event| event.point.situation.soot_percent)
        .collect();
    assert_eq!(edges, [77.0, 80.0, 120.0], "exactly");
    let steps: Vec<f64> = journey
        .events
        .iter()
        .filter_map(
            |event| if let Happening::Power { to_percent, .. } = event.happening { Some(to_percent) } else { None },
        )
        .collect();
    assert_eq!(steps, [75.0, 40.0], "too slow for an active one, so nothing was held back");
}

#[test]
fn a_reading_between_two_points_lies_between_them() {
    let journey = make(&start(50.0), &[work(60.0)]);
    let (a, b) = (journey.points[3], journey.points[4]);
    let middle = journey.at((a.seconds + b.seconds) / 2.0);
    assert!((middle.situation.outlet_c - (a.situation.outlet_c + b.situation.outlet_c) / 2.0).abs() < 1e-9);
    assert_eq!(journey.at(-1.0), journey.points[0]);
    assert_eq!(journey.at(1e9), journey.end);
}
