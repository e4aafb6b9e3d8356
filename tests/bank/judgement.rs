//! What must hold for the judgement whatever the situation: looked at over a grid of the whole situation space, on each
//! machine of the bank and on the test profile of common practice.

use super::machines::machines;
use sootmark::domain::aftertreatment::judgement::{Action, Judgement, Route, judge};
use sootmark::domain::aftertreatment::profile::Profile;
use sootmark::domain::aftertreatment::rules::Rule;
use sootmark::domain::aftertreatment::situation::{Enclosure, Ground, Regeneration, Situation};

fn profiles() -> Vec<Profile> {
    machines().into_iter().chain([super::common_practice().profile]).collect()
}

/// A little below each level, on it, and between it and the next.
fn soot_loads(profile: &Profile) -> Vec<f64> {
    let mut loads = vec![0.0, 5.0];
    for edge in profile.soot_edges() {
        loads.extend([edge - 0.1, edge, edge + 0.1]);
    }
    loads.push(profile.stop_above_percent + 60.0);
    loads.sort_by(f64::total_cmp);
    loads.dedup();
    loads
}

/// Writes a place into a situation.
type Place = fn(&mut Situation);

/// Each way a place can be, one at a time: whether it is safe for hot gas, and how it is written into a situation.
const PLACES: [(bool, Place); 6] = [
    (true, |s| s.ground = Ground::Gravel),
    (false, |s| s.ground = Ground::Stubble),
    (false, |s| s.enclosure = Enclosure::Closed),
    (false, |s| s.enclosure = Enclosure::OpenSided),
    (false, |s| s.people_near = true),
    (false, |s| (s.fuel_near, s.overhead) = (s.standing, !s.standing)),
];

/// Engine and stance: off, slow and fast; at work, ready for a parked regeneration, ready but cold.
const STANCES: [(bool, f64, bool, bool); 5] = [
    (true, 1000.0, false, true),
    (true, 2200.0, false, true),
    (true, 900.0, true, true),
    (true, 900.0, true, false),
    (false, 0.0, true, false),
];

/// Every situation of the grid except its soot load and place.
fn moments(profile: &Profile) -> Vec<Situation> {
    let mut moments = Vec::new();
    for (engine_running, speed_rpm, still, engine_warm) in STANCES {
        for outlet_c in [40.0, 300.0, 600.0] {
            for regeneration in Regeneration::ALL {
                for inhibit_on in [false, true] {
                    for inhibits in [0, profile.inhibit.parked_after] {
                        let base =
                            Situation { engine_running, speed_rpm, engine_warm, outlet_c, ..Situation::default() };
                        let stance = Situation { standing: still, park_brake: still, neutral: still, ..base };
                        let now = Situation { attachment_down: still, regeneration, inhibit_on, inhibits, ..stance };
                        // Hours and ash alternate: what depends on them is looked at with both.
                        moments.push(Situation { hours_since_parked: 1.0, ash_percent: 95.0, ..now });
                        moments.push(now);
                    }
                }
            }
        }
    }
    moments
}

/// Shows every situation of every profile with its judgement, the soot load rising fastest.
fn sweep(mut see: impl FnMut(&Profile, bool, &Situation, &Judgement)) -> usize {
    let mut seen = 0;
    for profile in profiles() {
        let loads = soot_loads(&profile);
        for moment in moments(&profile) {
            for (safe, set) in PLACES {
                for soot_percent in &loads {
                    let mut situation = Situation { soot_percent: *soot_percent, ..moment };
                    set(&mut situation);
                    see(&profile, safe, &situation, &judge(&profile, &situation));
                    seen += 1;
                }
            }
        }
    }
    seen
}

/// One in eight situations, without a rhythm of its own that could fall in with the grid's: for what is slow to look at.
fn sampled(at: u64) -> bool {
    at.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 61 == 0
}

#[test]
fn every_situation_has_one_route_with_its_rule_and_explained_lamps() {
    let seen = sweep(|profile, _, situation, judgement| {
        let route = Rule::TABLE.iter().find(|(rule, _)| *rule == judgement.reason.rule).map(|(_, route)| *route);
        assert_eq!(route, Some(judgement.route), "{} {situation:?}", profile.id);
        assert!(judgement.reason.holds(), "{} {situation:?}", profile.id);
        assert_eq!(profile.bands[judgement.band].id, profile.band(situation.soot_percent).id);
        let unexplained = judgement.lamps.iter().find(|lamp| profile.lamps.iter().all(|known| known.lamp != *lamp));
        assert_eq!(unexplained, None, "{} {situation:?}", profile.id);
    });
    assert!(seen > 100_000, "{seen} situations");
}

#[test]
fn no_rule_above_the_decisive_one_holds() {
    // The judgement leaves off at the first thing that is not so; here every rule is looked at whole.
    let mut at = 0;
    sweep(|profile, _, situation, judgement| {
        at += 1;
        if sampled(at) {
            let first = Rule::TABLE.iter().find(|(rule, _)| rule.examine(profile, situation).holds());
            assert_eq!(first.map(|(rule, _)| *rule), Some(judgement.reason.rule), "{} {situation:?}", profile.id);
        }
    });
}

#[test]
fn safety_outranks_the_filter_and_the_work() {
    const HEAT: [Action; 3] = [Action::StartParked, Action::SwitchInhibitOff, Action::RaiseLoad];
    const HEATING: [Route; 7] = [
        Route::WorkHarder,
        Route::LetActiveRun,
        Route::RaiseSpeed,
        Route::ReleaseInhibit,
        Route::StartParked,
        Route::MeetConditions,
        Route::StayWithParked,
    ];
    const STOPPED: [Action; 3] = [Action::SwitchEngineOff, Action::LeaveUnattended, Action::TouchOutlet];
    sweep(|profile, safe, situation, judgement| {
        let told = || format!("{} {situation:?} {judgement:?}", profile.id);
        if !safe {
            assert!(HEAT.iter().all(|action| !judgement.permitted.contains(*action)), "{}", told());
            assert!(!HEATING.contains(&judgement.route), "{}", told());
            assert!(judgement.permitted.contains(Action::SwitchEngineOff), "{}", told());
        }
        if situation.soot_percent >= profile.stop_above_percent {
            assert_eq!(judgement.route, Route::StopAndCall, "{}", told());
            assert!(judgement.permitted.iter().all(|action| STOPPED.contains(&action)), "{}", told());
        }
        if situation.engine_running && situation.regeneration != Regeneration::None {
            assert!(!judgement.permitted.contains(Action::LeaveUnattended), "{}", told());
        }
    });
}

/// How much a route asks of the operator: work as before, work otherwise, see to the machine's own cleaning, give up
/// work for a parked one, get the heat away from what it hurts, stop.
fn severity(route: Route) -> u8 {
    match route {
        Route::WorkOn | Route::BookService => 0,
        Route::WorkHarder => 1,
        Route::LetActiveRun | Route::RaiseSpeed | Route::ReleaseInhibit => 2,
        Route::StartParked | Route::MeetConditions | Route::StayWithParked => 3,
        Route::MoveFirst | Route::HoldBackAndMove | Route::BreakOffParked => 4,
        Route::StopAndCall => 5,
    }
}

#[test]
fn more_soot_never_makes_the_route_milder() {
    let mut before: Option<(f64, u8)> = None;
    sweep(|profile, _, situation, judgement| {
        let now = severity(judgement.route);
        if let Some((soot, severe)) = before.filter(|(soot, _)| *soot < situation.soot_percent) {
            assert!(now >= severe, "{}: {severe} at {soot} %, {now} at {situation:?}", profile.id);
        }
        before = Some((situation.soot_percent, now));
    });
}

#[test]
fn whatever_is_not_permitted_has_a_ground_and_whatever_is_has_none() {
    let mut at = 0;
    sweep(|profile, _, situation, judgement| {
        at += 1;
        if !sampled(at) {
            return;
        }
        let forbidden = judgement.forbidden();
        for action in Action::ALL {
            let ground = action.forbidden_by(profile, situation);
            let permitted = judgement.permitted.contains(action);
            assert_eq!(permitted, ground.is_none(), "{} {action:?} {situation:?}", profile.id);
            assert_ne!(permitted, forbidden.contains(action), "{} {action:?} {situation:?}", profile.id);
        }
    });
}

#[test]
fn every_rule_decides_somewhere_on_every_machine() {
    let mut decided: Vec<(String, Rule)> = Vec::new();
    sweep(|profile, _, _, judgement| {
        let found = (profile.id.clone(), judgement.reason.rule);
        if !decided.contains(&found) {
            decided.push(found);
        }
    });
    for profile in profiles() {
        for (rule, _) in Rule::TABLE {
            assert!(decided.contains(&(profile.id.clone(), rule)), "{}: {rule:?} never decides", profile.id);
        }
    }
}
