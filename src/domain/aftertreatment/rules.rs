//! The rules by which a situation is judged, each a named row with what it compares.
//!
//! The table's order is the order of importance: safety before the filter, the filter before the work. The first rule
//! that holds decides the route. A rule never looks at another rule's outcome.

use super::hazard::{BURNS_SKIN_FROM_C, DRY_PLANTS_IGNITE_FROM_C, place_is_hazardous};
use super::judgement::Route;
use super::kinetics;
use super::profile::{Profile, Way};
use super::situation::{Enclosure, Ground, Interlock, Regeneration, Situation};
use crate::units::{Quantity, Unit};
use serde::{Deserialize, Serialize};

/// A row of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rule {
    /// Soot has reached the stop level.
    BeyondStopLevel,
    /// A parked regeneration runs where it must not.
    ParkedRunsInHazard,
    /// An active regeneration runs where it must not.
    ActiveRunsInHazard,
    /// An active regeneration is due where it must not run.
    ActiveDueInHazard,
    /// A parked regeneration is needed where it must not run.
    ParkedNeededInHazard,
    /// The engine runs in a closed building.
    EngineRunsIndoors,
    /// The machine stands with a hot outlet over something that burns.
    HotOverDryGround,
    /// A parked regeneration is running.
    ParkedRuns,
    /// A parked regeneration is needed but would not start.
    ParkedBlocked,
    /// A parked regeneration is needed.
    ParkedNeeded,
    /// An active regeneration is running, but the engine turns too slowly.
    ActiveRunsTooSlow,
    /// An active regeneration is running.
    ActiveRuns,
    /// The inhibit switch is on where nothing calls for it.
    InhibitWithoutNeed,
    /// An active regeneration is due, but the engine turns too slowly.
    ActiveDueTooSlow,
    /// An active regeneration is due.
    ActiveDue,
    /// The work now done will not keep the soot below the active level.
    WorkTooLight,
    /// Ash calls for a service cleaning.
    AshDue,
    /// Nothing is due.
    NothingDue,
}

impl Rule {
    /// Every rule, most important first; the last always holds.
    pub const TABLE: [(Self, Route); 18] = [
        (Self::BeyondStopLevel, Route::StopAndCall),
        (Self::ParkedRunsInHazard, Route::BreakOffParked),
        (Self::ActiveRunsInHazard, Route::HoldBackAndMove),
        (Self::ActiveDueInHazard, Route::HoldBackAndMove),
        (Self::ParkedNeededInHazard, Route::MoveFirst),
        (Self::EngineRunsIndoors, Route::MoveFirst),
        (Self::HotOverDryGround, Route::MoveFirst),
        (Self::ParkedRuns, Route::StayWithParked),
        (Self::ParkedBlocked, Route::MeetConditions),
        (Self::ParkedNeeded, Route::StartParked),
        (Self::ActiveRunsTooSlow, Route::RaiseSpeed),
        (Self::ActiveRuns, Route::LetActiveRun),
        (Self::InhibitWithoutNeed, Route::ReleaseInhibit),
        (Self::ActiveDueTooSlow, Route::RaiseSpeed),
        (Self::ActiveDue, Route::LetActiveRun),
        (Self::WorkTooLight, Route::WorkHarder),
        (Self::AshDue, Route::BookService),
        (Self::NothingDue, Route::WorkOn),
    ];

    /// Whether the rule holds for this situation, and what it compared to find out.
    #[must_use]
    pub fn examine(self, profile: &Profile, situation: &Situation) -> Finding {
        let s = situation;
        let start = Finding::of(self);
        match self {
            Self::BeyondStopLevel => start.and(soot_at_stop_level(profile, s)),
            Self::ParkedRunsInHazard => start.and(running(s, Regeneration::Parked)).and(hazard(s)),
            Self::ActiveRunsInHazard => start.and(running(s, Regeneration::Active)).and(hazard(s)),
            Self::ActiveDueInHazard => active_due(start, profile, s).and(hazard(s)),
            Self::ParkedNeededInHazard => parked_needed(start, profile, s).and(hazard(s)),
            Self::EngineRunsIndoors => start
                .and(fact(Fact::EngineRunning, s.engine_running))
                .and(fact(Fact::Enclosure(s.enclosure), s.enclosure == Enclosure::Closed)),
            Self::HotOverDryGround => start
                .and(fact(Fact::Standing, s.standing))
                .and(fact(Fact::Ground(s.ground), s.ground.burns()))
                .and(outlet(s, DRY_PLANTS_IGNITE_FROM_C, Limit::DryPlantsIgnite)),
            Self::ParkedRuns => start.and(running(s, Regeneration::Parked)),
            Self::ParkedBlocked => parked_needed(start, profile, s).and(blocked(profile, s)),
            Self::ParkedNeeded => parked_needed(start, profile, s),
            Self::ActiveRunsTooSlow => start.and(running(s, Regeneration::Active)).and(too_slow(profile, s)),
            Self::ActiveRuns => start.and(running(s, Regeneration::Active)),
            Self::InhibitWithoutNeed => {
                start.and(fact(Fact::InhibitOn, s.inhibit_on)).and(fact(Fact::PlaceSafe, !place_is_hazardous(s)))
            }
            Self::ActiveDueTooSlow => active_due(start, profile, s).and(too_slow(profile, s)),
            Self::ActiveDue => active_due(start, profile, s),
            Self::WorkTooLight => work_too_light(start, profile, s),
            Self::AshDue => start.and(Comparison::at_least(
                Reading::Ash,
                percent(s.ash_percent),
                Limit::AshService,
                percent(profile.ash_service_percent),
            )),
            Self::NothingDue => start,
        }
    }
}

/// What a number on the machine measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reading {
    /// Soot load.
    Soot,
    /// Ash load.
    Ash,
    /// Outlet temperature.
    Outlet,
    /// Engine speed.
    Speed,
    /// Engine hours since the last parked regeneration.
    HoursSinceParked,
    /// Regenerations held back in a row.
    Inhibits,
    /// The soot load at which this work would settle.
    BalanceLoad,
}

/// What a reading is held against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Limit {
    /// The machine must not be used from here on.
    StopLevel,
    /// Parked regeneration is called for.
    ParkedFrom,
    /// Active regeneration may begin.
    ActiveFrom,
    /// Lowest engine speed for an active regeneration.
    SpeedFloor,
    /// More load is advised.
    AdviseFrom,
    /// A service cleaning is due.
    AshService,
    /// Hours that must lie between two parked regenerations.
    HoursBetween,
    /// Soot above which the hours do not matter.
    HoursWaived,
    /// Held-back regenerations after which only a parked one helps.
    ParkedAfter,
    /// Dry plants ignite.
    DryPlantsIgnite,
    /// Bare metal burns skin.
    BurnsSkin,
}

/// Something that is so or not, rather than measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fact {
    /// What the machine stands on.
    Ground(Ground),
    /// How open the place is.
    Enclosure(Enclosure),
    /// Somebody is near the outlet.
    PeopleNear,
    /// Fuel or chaff lies near the outlet.
    FuelNear,
    /// Something hangs over the outlet.
    Overhead,
    /// Nothing speaks against hot gas here.
    PlaceSafe,
    /// The engine runs.
    EngineRunning,
    /// The machine stands still.
    Standing,
    /// The inhibit switch is on.
    InhibitOn,
    /// This regeneration runs.
    Running(Regeneration),
    /// This interlock is open.
    InterlockOpen(Interlock),
    /// Every interlock is met and the hours or the soot allow a start.
    WouldStart,
    /// The band allows this way of cleaning.
    BandAllows(Way),
}

/// How a reading stands to its limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Relation {
    /// The rule asks for at least the limit.
    AtLeast,
    /// The rule asks for less than the limit.
    Below,
    /// The rule asks for at most the limit.
    AtMost,
}

/// One thing a rule looked at.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
pub enum Comparison {
    /// A reading against a limit.
    Number {
        /// What was read.
        reading: Reading,
        /// Its value.
        value: Quantity,
        /// What the rule asks for.
        relation: Relation,
        /// What it was held against.
        limit: Limit,
        /// The limit's value.
        limit_value: Quantity,
        /// Whether what the rule asks for is so.
        holds: bool,
    },
    /// A fact.
    Fact {
        /// The fact.
        fact: Fact,
        /// Whether it is so.
        holds: bool,
    },
}

impl Comparison {
    fn new(reading: Reading, value: Quantity, relation: Relation, limit: Limit, limit_value: Quantity) -> Self {
        let holds = match relation {
            Relation::AtLeast => value.value >= limit_value.value,
            Relation::Below => value.value < limit_value.value,
            Relation::AtMost => value.value <= limit_value.value,
        };
        Self::Number { reading, value, relation, limit, limit_value, holds }
    }

    pub(super) fn at_least(reading: Reading, value: Quantity, limit: Limit, limit_value: Quantity) -> Self {
        Self::new(reading, value, Relation::AtLeast, limit, limit_value)
    }

    /// Whether what the rule asks for is so.
    #[must_use]
    pub const fn holds(&self) -> bool {
        match self {
            Self::Number { holds, .. } | Self::Fact { holds, .. } => *holds,
        }
    }
}

/// What a rule found in a situation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// The rule.
    pub rule: Rule,
    compared: [Option<Comparison>; 5],
}

impl Finding {
    const fn of(rule: Rule) -> Self {
        Self { rule, compared: [None; 5] }
    }

    fn and(mut self, comparison: Comparison) -> Self {
        let free = self.compared.iter_mut().find(|slot| slot.is_none());
        debug_assert!(free.is_some(), "a rule compares at most five things");
        if let Some(slot) = free {
            *slot = Some(comparison);
        }
        self
    }

    /// Whether everything the rule asks for is so.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.compared().all(|comparison| comparison.holds())
    }

    /// What the rule looked at, in order.
    pub fn compared(&self) -> impl Iterator<Item = &Comparison> {
        self.compared.iter().flatten()
    }
}

pub(super) const fn percent(value: f64) -> Quantity {
    Quantity::new(value, Unit::Percent)
}

pub(super) const fn fact(fact: Fact, holds: bool) -> Comparison {
    Comparison::Fact { fact, holds }
}

pub(super) fn soot_at_stop_level(profile: &Profile, s: &Situation) -> Comparison {
    let level = percent(profile.stop_above_percent);
    Comparison::at_least(Reading::Soot, percent(s.soot_percent), Limit::StopLevel, level)
}

pub(super) fn running(s: &Situation, regeneration: Regeneration) -> Comparison {
    fact(Fact::Running(regeneration), s.regeneration == regeneration)
}

/// The first thing that makes the place hazardous, or that the place is safe.
pub(super) fn hazard(s: &Situation) -> Comparison {
    let first = [
        (Fact::Enclosure(s.enclosure), s.enclosure != Enclosure::Open),
        (Fact::Ground(s.ground), s.ground.burns()),
        (Fact::FuelNear, s.fuel_near),
        (Fact::PeopleNear, s.people_near),
        (Fact::Overhead, s.overhead),
    ]
    .into_iter()
    .find(|(_, holds)| *holds);
    first.map_or(Comparison::Fact { fact: Fact::PlaceSafe, holds: false }, |(which, holds)| fact(which, holds))
}

pub(super) fn outlet(s: &Situation, limit_c: f64, limit: Limit) -> Comparison {
    let celsius = |value| Quantity::new(value, Unit::Celsius);
    Comparison::at_least(Reading::Outlet, celsius(s.outlet_c), limit, celsius(limit_c))
}

pub(super) fn burns_skin(s: &Situation) -> Comparison {
    outlet(s, BURNS_SKIN_FROM_C, Limit::BurnsSkin)
}

fn too_slow(profile: &Profile, s: &Situation) -> Comparison {
    let rpm = |value| Quantity::new(value, Unit::Rpm);
    let floor = rpm(profile.active.min_speed_rpm);
    Comparison::new(Reading::Speed, rpm(s.speed_rpm), Relation::Below, Limit::SpeedFloor, floor)
}

fn active_due(start: Finding, profile: &Profile, s: &Situation) -> Finding {
    start
        .and(running(s, Regeneration::None))
        .and(fact(Fact::EngineRunning, s.engine_running))
        .and(Comparison::at_least(
            Reading::Soot,
            percent(s.soot_percent),
            Limit::ActiveFrom,
            percent(profile.active.from_percent),
        ))
        .and(fact(Fact::BandAllows(Way::Active), profile.band(s.soot_percent).allows(Way::Active)))
}

/// Whether the machine would accept the start as far as hours and soot go.
pub(super) fn hours_allow(profile: &Profile, s: &Situation) -> bool {
    s.hours_since_parked > profile.parked.min_hours_between || s.soot_percent > profile.parked.unless_above_percent
}

/// Whether only a parked regeneration still helps; by soot, or because active ones were held back too often.
pub(super) fn parked_is_needed(profile: &Profile, s: &Situation) -> bool {
    s.regeneration == Regeneration::None
        && (s.soot_percent >= profile.parked.from_percent
            || (s.inhibits >= profile.inhibit.parked_after && hours_allow(profile, s)))
}

fn parked_needed(start: Finding, profile: &Profile, s: &Situation) -> Finding {
    let by_soot = Comparison::at_least(
        Reading::Soot,
        percent(s.soot_percent),
        Limit::ParkedFrom,
        percent(profile.parked.from_percent),
    );
    let start = start.and(running(s, Regeneration::None));
    if by_soot.holds() || !parked_is_needed(profile, s) {
        return start.and(by_soot);
    }
    let count = |value: u32| Quantity::new(f64::from(value), Unit::One);
    start.and(Comparison::at_least(
        Reading::Inhibits,
        count(s.inhibits),
        Limit::ParkedAfter,
        count(profile.inhibit.parked_after),
    ))
}

/// The interlocks that are open, in the profile's order.
pub fn open_interlocks<'a>(profile: &'a Profile, s: &'a Situation) -> impl Iterator<Item = Interlock> + 'a {
    profile.parked.interlocks.iter().copied().filter(|interlock| !s.meets(*interlock))
}

/// What keeps a parked regeneration from starting: an open interlock, or too few hours at too little soot.
pub(super) fn blocked(profile: &Profile, s: &Situation) -> Comparison {
    if let Some(open) = open_interlocks(profile, s).next() {
        return fact(Fact::InterlockOpen(open), true);
    }
    if hours_allow(profile, s) {
        return fact(Fact::WouldStart, false);
    }
    let hours = |value| Quantity::new(value, Unit::Hour);
    Comparison::new(
        Reading::HoursSinceParked,
        hours(s.hours_since_parked),
        Relation::AtMost,
        Limit::HoursBetween,
        hours(profile.parked.min_hours_between),
    )
}

/// Asks the kinetics only once the cheap comparison has held: this rule is the one that costs exponentials.
fn work_too_light(start: Finding, profile: &Profile, s: &Situation) -> Finding {
    let advised = Comparison::at_least(
        Reading::Soot,
        percent(s.soot_percent),
        Limit::AdviseFrom,
        percent(profile.passive.advise_from_percent),
    );
    let start = start.and(fact(Fact::EngineRunning, s.engine_running)).and(advised);
    if !start.holds() {
        return start;
    }
    start.and(Comparison::at_least(
        Reading::BalanceLoad,
        percent(kinetics::balance_percent(profile, s)),
        Limit::ActiveFrom,
        percent(profile.active.from_percent),
    ))
}
