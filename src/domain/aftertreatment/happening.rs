//! What happens on a machine during a journey, as values: what hinders a regeneration, and what an observer would note down.
//!
//! Holds no words for readers: `explain_journey` has them.

use super::lamp::Lamp;
use super::operator::OperatorAction;
use super::situation::{Interlock, Regeneration};
use serde::{Deserialize, Serialize};

/// What keeps a regeneration from beginning, or has broken it off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hindrance {
    /// The engine does not run.
    EngineOff,
    /// The inhibit switch is on (J1939 SPN 3703).
    BySwitch,
    /// The engine is cold (SPN 3716).
    EngineCold,
    /// The engine turns too slowly for an active regeneration.
    TooSlow,
    /// The exhaust is not hot enough for the extra fuel to light (SPN 3711).
    LowExhaustTemperature,
    /// The pause after one that was held back or broken off is not over.
    Pause,
    /// An interlock is open (park brake: SPN 3710).
    Interlock(Interlock),
    /// Too few engine hours since the last parked regeneration at too little soot.
    TooFewHours,
    /// Another regeneration is running.
    AlreadyRuns,
    /// Only service cleaning is open (SPN 3715).
    ServiceOnly,
    /// The operator broke it off.
    Operator,
}

impl Hindrance {
    /// The word in files and JSON; of an open interlock, the interlock's own word.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::EngineOff => "engine_off",
            Self::BySwitch => "by_switch",
            Self::EngineCold => "engine_cold",
            Self::TooSlow => "too_slow",
            Self::LowExhaustTemperature => "low_exhaust_temperature",
            Self::Pause => "pause",
            Self::Interlock(interlock) => interlock.id(),
            Self::TooFewHours => "too_few_hours",
            Self::AlreadyRuns => "already_runs",
            Self::ServiceOnly => "service_only",
            Self::Operator => "operator",
        }
    }
}

/// Something that happens at one moment of a journey.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Happening {
    /// The operator did something.
    Did(OperatorAction),
    /// The soot load went from one band to another (places in the profile's list).
    Band {
        /// The band before.
        from: usize,
        /// The band now.
        to: usize,
    },
    /// A lamp came on.
    LampOn(Lamp),
    /// A lamp went out.
    LampOff(Lamp),
    /// A regeneration is due and something keeps it from beginning.
    Waits(Regeneration, Hindrance),
    /// A regeneration is due and the operator is to start it: nothing hinders it.
    AsksForParked,
    /// The inhibit switch held an active regeneration back; this many in a row now.
    HeldBack(u32),
    /// A regeneration began.
    Started(Regeneration),
    /// A regeneration ran to its end.
    Completed(Regeneration),
    /// A regeneration was broken off.
    Interrupted(Regeneration, Hindrance),
    /// The machine did not accept the start of a parked regeneration.
    Refused(Hindrance),
    /// Engine power changed, in percent of full power.
    Power {
        /// Before.
        from_percent: f64,
        /// Now.
        to_percent: f64,
    },
    /// From here on only service cleaning helps.
    ServiceOnly,
    /// Ash reached the level from which a service cleaning is due.
    AshDue,
}

impl Happening {
    /// The word in JSON and tables.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Did(_) => "operator",
            Self::Band { .. } => "band_crossed",
            Self::LampOn(_) => "lamp_on",
            Self::LampOff(_) => "lamp_off",
            Self::Waits(..) => "regeneration_waits",
            Self::AsksForParked => "parked_asked_for",
            Self::HeldBack(_) => "held_back",
            Self::Started(_) => "regeneration_started",
            Self::Completed(_) => "regeneration_completed",
            Self::Interrupted(..) => "regeneration_interrupted",
            Self::Refused(_) => "start_refused",
            Self::Power { .. } => "power_changed",
            Self::ServiceOnly => "service_only",
            Self::AshDue => "ash_due",
        }
    }
}
