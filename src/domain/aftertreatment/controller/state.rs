//! The states of the controller, each of which the machine's signals can express, and how readings lead to one.
//!
//! Rests on the same rules as the judgement, so that what the machine does and what is right to do never drift apart.

use crate::aftertreatment::happening::Hindrance;
use crate::aftertreatment::profile::{Profile, Way};
use crate::aftertreatment::rules::{self, Rule};
use crate::aftertreatment::situation::{Regeneration, Situation};
use serde::{Deserialize, Serialize};

/// What the controller is at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// No regeneration is needed.
    NotNeeded,
    /// An active regeneration is due; what keeps it from beginning, if anything.
    Due(Option<Hindrance>),
    /// An active regeneration runs.
    Active,
    /// The operator is to start a parked regeneration; what would keep it from starting, if anything.
    ParkedNeeded(Option<Hindrance>),
    /// A parked regeneration runs.
    Parked,
    /// Only service cleaning is open.
    ServiceOnly,
}

impl State {
    /// The state that readings lead to; the pause after a try is the controller's own and not seen here.
    #[must_use]
    pub fn of(profile: &Profile, s: &Situation) -> Self {
        match s.regeneration {
            Regeneration::Active => return Self::Active,
            Regeneration::Parked => return Self::Parked,
            Regeneration::None => {}
        }
        if s.soot_percent >= profile.stop_above_percent {
            Self::ServiceOnly
        } else if Rule::ParkedNeeded.examine(profile, s).holds() {
            Self::ParkedNeeded(parked_hindrance(profile, s))
        } else if active_is_due(profile, s) {
            Self::Due(active_hindrance(profile, s, s.inhibit_on))
        } else {
            Self::NotNeeded
        }
    }

    /// Whether an active regeneration would begin if the inhibit switch were off.
    pub(super) fn due_but_for_the_switch(profile: &Profile, s: &Situation) -> bool {
        active_is_due(profile, s) && active_hindrance(profile, s, false).is_none()
    }

    /// The word in JSON and tables.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::NotNeeded => "not_needed",
            Self::Due(_) => "active_due",
            Self::Active => "active_runs",
            Self::ParkedNeeded(_) => "parked_needed",
            Self::Parked => "parked_runs",
            Self::ServiceOnly => "service_only",
        }
    }

    /// What hinders the regeneration that is needed.
    #[must_use]
    pub const fn hindrance(self) -> Option<Hindrance> {
        match self {
            Self::Due(hindrance) | Self::ParkedNeeded(hindrance) => hindrance,
            Self::NotNeeded | Self::Active | Self::Parked | Self::ServiceOnly => None,
        }
    }
}

/// By soot alone: whether the engine runs is a hindrance and not a need.
fn active_is_due(profile: &Profile, s: &Situation) -> bool {
    s.soot_percent >= profile.active.from_percent && profile.band(s.soot_percent).allows(Way::Active)
}

/// What keeps an active regeneration from beginning, the switch first: it is the operator's own.
fn active_hindrance(profile: &Profile, s: &Situation, inhibit_on: bool) -> Option<Hindrance> {
    let hindrances = [
        (Hindrance::EngineOff, !s.engine_running),
        (Hindrance::BySwitch, inhibit_on),
        (Hindrance::EngineCold, !s.engine_warm),
        (Hindrance::TooSlow, s.speed_rpm < profile.active.min_speed_rpm),
        (Hindrance::LowExhaustTemperature, s.outlet_c < profile.active.light_off_c),
    ];
    hindrances.into_iter().find(|(_, there)| *there).map(|(hindrance, _)| hindrance)
}

/// What keeps a parked regeneration from starting when the operator asks for it.
pub(super) fn parked_hindrance(profile: &Profile, s: &Situation) -> Option<Hindrance> {
    if s.regeneration != Regeneration::None {
        return Some(Hindrance::AlreadyRuns);
    }
    if s.soot_percent >= profile.stop_above_percent {
        return Some(Hindrance::ServiceOnly);
    }
    if let Some(open) = rules::open_interlocks(profile, s).next() {
        return Some(Hindrance::Interlock(open));
    }
    if !s.engine_running {
        return Some(Hindrance::EngineOff);
    }
    rules::blocked(profile, s).holds().then_some(Hindrance::TooFewHours)
}
