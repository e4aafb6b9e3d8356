//! What the controller says on the machine's network: the values of the SAE J1939 signals about the filter.
//!
//! Source: SAE J1939-71 and -73 as public decoders show them; the numbers of the signals (SPN) and their values are the
//! standard's, the wording is ours. Never sends anything: it says which values a machine in this state would show.
//!
//! An engine that turns too slowly, a pause, an open interlock other than the park brake and too few hours have no signal of
//! their own here: they show as inhibited (3702) without a reason beside it.

use super::park_brake_open;
use super::state::State;
use crate::aftertreatment::judgement;
use crate::aftertreatment::kinetics::MEASURED_FROM_C;
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::profile::{Coating, Profile};
use crate::aftertreatment::situation::{Regeneration, Situation};
use serde::{Deserialize, Serialize};

/// Outlet temperature in deg C from which a bare filter cleans itself by work.
/// Source: C. R. Chimie 17 (2014) 672; Fiebig et al. 2014: direct oxidation by O2 matters above about 450 deg C.
const BARE_PASSIVE_FROM_C: f64 = 450.0;

/// One signal about the filter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Signal {
    /// Its number (SPN).
    pub spn: u16,
    /// Its raw value.
    pub value: u8,
}

/// The signals in the order of their numbers.
#[must_use]
pub fn signals(profile: &Profile, s: &Situation, state: State) -> [Signal; 11] {
    let needed = state != State::NotNeeded;
    let waits = matches!(state, State::Due(_) | State::ParkedNeeded(_));
    let flag = |spn, holds: bool| Signal { spn, value: u8::from(holds) };
    let by_switch = s.inhibit_on;
    let park_brake = matches!(state, State::ParkedNeeded(_)) && park_brake_open(profile, s);
    let low_exhaust = matches!(state, State::Due(_)) && s.outlet_c < profile.active.light_off_c;
    let locked_out = state == State::ServiceOnly;
    let cold = needed && waits && !s.engine_warm;
    let hindered = state.hindrance().is_some();
    [
        Signal { spn: 3697, value: filter_lamp(profile, s, state) },
        flag(3698, judgement::lamps(profile, s).contains(Lamp::ExhaustHot)),
        flag(3699, passive_runs(profile, s)),
        Signal { spn: 3700, value: active_status(state) },
        Signal { spn: 3701, value: need(state, profile, s) },
        flag(3702, by_switch || park_brake || low_exhaust || locked_out || cold || hindered),
        flag(3703, by_switch),
        flag(3710, park_brake),
        flag(3711, low_exhaust),
        flag(3715, locked_out),
        flag(3716, cold),
    ]
}

/// The value of one signal, by its number; `None` for a signal that is not about the filter.
#[must_use]
pub fn signal(profile: &Profile, s: &Situation, state: State, spn: u16) -> Option<u8> {
    signals(profile, s, state).into_iter().find(|signal| signal.spn == spn).map(|signal| signal.value)
}

/// 3697: 0 off, 1 on, 4 blinking once a second. It blinks when the operator or the workshop must act.
fn filter_lamp(profile: &Profile, s: &Situation, state: State) -> u8 {
    match state {
        State::ParkedNeeded(_) | State::ServiceOnly => 4,
        _ => u8::from(judgement::lamps(profile, s).contains(Lamp::Filter)),
    }
}

/// 3699: whether work alone is cleaning: hot enough, and neither of the other ways runs.
fn passive_runs(profile: &Profile, s: &Situation) -> bool {
    let hot_enough_c = match profile.filter.coating {
        Coating::Catalysed => MEASURED_FROM_C,
        Coating::Bare => BARE_PASSIVE_FROM_C,
    };
    s.engine_running && s.regeneration == Regeneration::None && s.outlet_c >= hot_enough_c
}

/// 3700: 0 not active, 1 active (the standard counts a parked one as active too), 2 needed.
const fn active_status(state: State) -> u8 {
    match state {
        State::NotNeeded => 0,
        State::Active | State::Parked => 1,
        State::Due(_) | State::ParkedNeeded(_) | State::ServiceOnly => 2,
    }
}

/// 3701: 0 not needed, 1 lowest, 2 moderate, 3 highest need. While one runs, the need is what the soot still calls for.
fn need(state: State, profile: &Profile, s: &Situation) -> u8 {
    match state {
        State::NotNeeded => 0,
        State::Due(_) => 1,
        State::ParkedNeeded(_) => 2,
        State::ServiceOnly => 3,
        State::Active | State::Parked => {
            u8::from(s.soot_percent >= profile.active.from_percent)
                + u8::from(s.soot_percent >= profile.parked.from_percent)
        }
    }
}
