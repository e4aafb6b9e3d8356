//! The model's answers in words: one plain sentence for each thing it compared, one instruction for each route.
//!
//! Never decides anything: it only says what the judgement already found.

mod course;
mod outlook;

use super::hazard::{Hazard, HazardSet};
use super::judgement::{Action, ActionSet, Judgement, Route};
use super::lamp::LampSet;
use super::profile::Profile;
use super::rules::{Comparison, Fact, Finding, Limit, Reading, Relation, Rule};
use super::situation::{Enclosure, Interlock, Regeneration, Situation};
use crate::units::{Quantity, TemperatureUnit, Unit};
use serde::{Deserialize, Serialize};

impl Route {
    /// What to do, as one instruction without a full stop. Each has forty letters: as options of a question they must not
    /// tell the right one by its length.
    #[must_use]
    pub const fn instruction(self) -> &'static str {
        match self {
            Self::WorkOn => "Work on as before: nothing else is asked",
            Self::BookService => "Work on, and book a service cleaning too",
            Self::WorkHarder => "Work on, but put more load on the engine",
            Self::LetActiveRun => "Work on, let the active regeneration end",
            Self::RaiseSpeed => "Raise the engine speed and keep it there",
            Self::ReleaseInhibit => "Switch the inhibit off and go on working",
            Self::StayWithParked => "Stay with it until the regeneration ends",
            Self::StartParked => "Start a parked regeneration here and now",
            Self::MeetConditions => "Meet the missing starting condition here",
            Self::MoveFirst => "Bring it to a safe place in the open air",
            Self::HoldBackAndMove => "Hold it back, then drive to a safe place",
            Self::BreakOffParked => "Break it off and make the place safe now",
            Self::StopAndCall => "Stop using this machine and call service",
        }
    }

    /// The word in templates and records.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::WorkOn => "work_on",
            Self::BookService => "book_service",
            Self::WorkHarder => "work_harder",
            Self::LetActiveRun => "let_active_run",
            Self::RaiseSpeed => "raise_speed",
            Self::ReleaseInhibit => "release_inhibit",
            Self::StayWithParked => "stay_with_parked",
            Self::StartParked => "start_parked",
            Self::MeetConditions => "meet_conditions",
            Self::MoveFirst => "move_first",
            Self::HoldBackAndMove => "hold_back_and_move",
            Self::BreakOffParked => "break_off_parked",
            Self::StopAndCall => "stop_and_call",
        }
    }

    /// Finds a route by its word.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|route| route.id() == id)
    }
}

impl Action {
    /// The action as a phrase that can follow "You may" or "You must not".
    #[must_use]
    pub const fn phrase(self) -> &'static str {
        match self {
            Self::KeepWorking => "go on working",
            Self::RaiseLoad => "give the engine more load",
            Self::MoveMachine => "drive the machine to another place",
            Self::StartParked => "start a parked regeneration",
            Self::SwitchInhibitOn => "switch the inhibit on",
            Self::SwitchInhibitOff => "switch the inhibit off",
            Self::SwitchEngineOff => "switch the engine off",
            Self::LeaveUnattended => "leave the machine on its own",
            Self::TouchOutlet => "touch the exhaust outlet",
        }
    }

    /// The word in templates and records.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::KeepWorking => "keep_working",
            Self::RaiseLoad => "raise_load",
            Self::MoveMachine => "move_machine",
            Self::StartParked => "start_parked",
            Self::SwitchInhibitOn => "switch_inhibit_on",
            Self::SwitchInhibitOff => "switch_inhibit_off",
            Self::SwitchEngineOff => "switch_engine_off",
            Self::LeaveUnattended => "leave_unattended",
            Self::TouchOutlet => "touch_outlet",
        }
    }

    /// Finds an action by its word.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|action| action.id() == id)
    }
}

const fn reading(reading: Reading) -> &'static str {
    match reading {
        Reading::Soot => "the soot load",
        Reading::Ash => "the ash load",
        Reading::Outlet => "the outlet temperature",
        Reading::Speed => "the engine speed",
        Reading::HoursSinceParked => "the time since the last parked regeneration",
        Reading::Inhibits => "the count of regenerations held back in a row",
        Reading::BalanceLoad => "the soot load at which this work would settle",
    }
}

const fn limit(limit: Limit) -> &'static str {
    match limit {
        Limit::StopLevel => "the level from which the machine must not be used",
        Limit::ParkedFrom => "the level from which a parked regeneration is needed",
        Limit::ActiveFrom => "the level from which an active regeneration begins",
        Limit::SpeedFloor => "the lowest engine speed for an active regeneration",
        Limit::LightOff => "the lowest outlet temperature at which an active regeneration begins",
        Limit::AdviseFrom => "the level from which more load is advised",
        Limit::AshService => "the level from which a service cleaning is due",
        Limit::HoursBetween => "the engine hours that must lie between two parked regenerations",
        Limit::HoursWaived => "the level above which those hours do not matter",
        Limit::ParkedAfter => "the count after which only a parked regeneration helps",
        Limit::DryPlantsIgnite => "where dry plants can catch fire",
        Limit::BurnsSkin => "where bare metal burns skin",
    }
}

/// The opposite or the thing itself, as a clause: "the park brake is off".
const fn interlock_open(interlock: Interlock) -> &'static str {
    match interlock {
        Interlock::Standing => "the machine is moving",
        Interlock::ParkBrake => "the park brake is off",
        Interlock::Neutral => "the drive is not in neutral",
        Interlock::EngineRunning => "the engine is off",
        Interlock::EngineWarm => "the engine is cold",
        Interlock::AttachmentDown => "the attachment is not on the ground",
        Interlock::InhibitOff => "the inhibit switch is on",
    }
}

fn fact(fact: Fact, holds: bool) -> String {
    let pick = |yes: &'static str, no: &'static str| if holds { yes } else { no }.to_owned();
    match fact {
        Fact::Ground(ground) => format!("the machine stands on {}", ground.name()),
        Fact::Enclosure(Enclosure::Open) => "the machine stands in the open".to_owned(),
        Fact::Enclosure(enclosure) => format!("the machine stands {}", enclosure.name()),
        Fact::PeopleNear => pick("people are near the exhaust outlet", "nobody is near the exhaust outlet"),
        Fact::FuelNear => pick("fuel or chaff lies near the outlet", "no fuel or chaff lies near the outlet"),
        Fact::Overhead => pick("something hangs over the outlet", "nothing hangs over the outlet"),
        Fact::PlaceSafe => pick("the place is safe for hot gas", "the place is not safe for hot gas"),
        Fact::PlaceHazardous => pick("the place is hazardous", "the place is not hazardous"),
        Fact::EngineRunning => pick("the engine runs", "the engine does not run"),
        Fact::EngineWarm => pick("the engine is warm", "the engine is cold"),
        Fact::Standing => pick("the machine stands still", "the machine does not stand still"),
        Fact::InhibitOn => pick("the inhibit switch is on", "the inhibit switch is off"),
        Fact::Running(Regeneration::None) => pick("no regeneration is running", "a regeneration is running"),
        Fact::Running(Regeneration::Active) => {
            pick("an active regeneration is running", "no active regeneration is running")
        }
        Fact::Running(Regeneration::Parked) => {
            pick("a parked regeneration is running", "no parked regeneration is running")
        }
        Fact::InterlockOpen(interlock) => interlock_open(interlock).to_owned(),
        Fact::WouldStart => pick("something keeps it from starting", "nothing keeps it from starting"),
        Fact::BandAllows(way) => pick("this band allows ", "this band does not allow ") + way.id() + " regeneration",
    }
}

/// Soot loads above this many percent mean nothing on a machine; chosen by us, far beyond any stop level.
pub const MEANINGFUL_TO_PERCENT: f64 = 1000.0;

fn number(quantity: Quantity, unit: TemperatureUnit) -> String {
    let tenths = quantity.unit == Unit::Percent;
    rounded(quantity.for_reader(unit), if tenths { 10.0 } else { 1.0 })
}

fn rounded(shown: Quantity, places: f64) -> String {
    let beyond = shown.unit == Unit::Percent && shown.value > MEANINGFUL_TO_PERCENT;
    if beyond || !shown.value.is_finite() {
        return "beyond any level".to_owned();
    }
    Quantity::new((shown.value * places).round() / places, shown.unit).to_string()
}

/// A reading and its limit; with two decimals, cut off towards the reading's own side, where rounding would make them the same.
fn told_apart(value: Quantity, limit: Quantity, unit: TemperatureUnit) -> (String, String) {
    let (told, against) = (number(value, unit), number(limit, unit));
    let (value, limit) = (value.for_reader(unit), limit.for_reader(unit));
    if told != against || value.value == limit.value || !value.value.is_finite() {
        return (told, against);
    }
    let hundredths = value.value * 100.0;
    let cut = if value.value < limit.value { hundredths.floor() } else { hundredths.ceil() };
    (Quantity::new(cut / 100.0, value.unit).to_string(), rounded(limit, 100.0))
}

impl Comparison {
    /// What was compared, as a clause: "the soot load 95 % is at or above the level ... (80 %)".
    #[must_use]
    pub fn clause(&self, unit: TemperatureUnit) -> String {
        match *self {
            Self::Fact { fact: which, holds } => fact(which, holds),
            Self::Number { reading: which, value, relation, limit: against, limit_value, holds } => {
                let stands = match (relation, holds) {
                    (Relation::AtLeast, true) | (Relation::Below, false) => "is at or above",
                    (Relation::AtLeast, false) | (Relation::Below, true) => "is below",
                    (Relation::AtMost, true) => "is not above",
                    (Relation::AtMost, false) => "is above",
                };
                let (value, against_value) = told_apart(value, limit_value, unit);
                format!("{} ({value}) {stands} {} ({against_value})", reading(which), limit(against))
            }
        }
    }
}

impl Finding {
    /// Everything the rule found, as one sentence.
    #[must_use]
    pub fn sentence(&self, unit: TemperatureUnit) -> String {
        let telling = self.compared().filter(|comparison| !goes_without_saying(comparison));
        let clauses: Vec<String> = telling.map(|comparison| comparison.clause(unit)).collect();
        sentence(&clauses)
    }

    /// What is missing for the rule to hold, as one sentence; nothing when it holds.
    #[must_use]
    pub fn missing(&self, unit: TemperatureUnit) -> Option<String> {
        self.compared().find(|comparison| !comparison.holds()).map(|comparison| sentence(&[comparison.clause(unit)]))
    }
}

/// What is so nearly always; named only when it is not so.
const fn goes_without_saying(comparison: &Comparison) -> bool {
    let usual = matches!(
        comparison,
        Comparison::Fact { fact: Fact::Running(Regeneration::None) | Fact::EngineRunning | Fact::BandAllows(_), .. }
    );
    usual && comparison.holds()
}

/// Joins clauses with commas and "and", with a capital and a full stop.
#[must_use]
pub fn sentence(clauses: &[String]) -> String {
    let joined = match clauses {
        [] => return "Nothing calls for anything else.".to_owned(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    };
    let mut letters = joined.chars();
    let capital: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{capital}{}.", letters.as_str())
}

impl Hazard {
    /// The hazard as a technician reads it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ExhaustInClosedSpace => "exhaust gas gathers where people breathe",
            Self::Fire => "hot gas or metal sets something alight",
            Self::PeopleAtOutlet => "hot gas reaches somebody at the outlet",
            Self::HotSurface => "hot metal burns skin",
            Self::OverloadedFilter => "an overloaded filter burns out of control",
            Self::Dust => "ash dust comes out when the filter is opened",
        }
    }
}

/// A judgement in words, as commands print it and questions keep it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Verdict {
    /// The band's word.
    pub band: String,
    /// The lamps that must be lit.
    pub lamps: LampSet,
    /// Whether engine power is reduced.
    pub derated: bool,
    /// What to do first.
    pub route: Route,
    /// What to do first, as an instruction.
    pub instruction: String,
    /// The rule that decided.
    pub rule: Rule,
    /// What the rule compared, as a sentence.
    pub because: String,
    /// What may be done now.
    pub permitted: ActionSet,
    /// What must not be done, and why.
    pub forbidden: Vec<Forbidden>,
    /// What can hurt somebody here and now.
    pub hazards: HazardSet,
}

/// Something that must not be done now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Forbidden {
    /// The action.
    pub action: Action,
    /// What forbids it, as a sentence.
    pub because: String,
}

impl Verdict {
    /// Puts a judgement into words, in the reader's scale.
    #[must_use]
    pub fn of(profile: &Profile, situation: &Situation, judgement: &Judgement, unit: TemperatureUnit) -> Self {
        let forbidden = judgement.forbidden().iter().filter_map(|action| {
            let because = sentence(&[action.forbidden_by(profile, situation)?.clause(unit)]);
            Some(Forbidden { action, because })
        });
        Self {
            band: profile.bands[judgement.band].id.clone(),
            lamps: judgement.lamps,
            derated: judgement.derated,
            route: judgement.route,
            instruction: judgement.route.instruction().to_owned(),
            rule: judgement.reason.rule,
            because: judgement.reason.sentence(unit),
            permitted: judgement.permitted,
            forbidden: forbidden.collect(),
            hazards: judgement.hazards,
        }
    }
}
