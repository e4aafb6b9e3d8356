//! What a rule compares: a reading with a limit, or a fact with what is so.

use crate::aftertreatment::profile::Way;
use crate::aftertreatment::situation::{Enclosure, Ground, Interlock, Regeneration};
use crate::units::Quantity;
use serde::{Deserialize, Serialize};

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
    /// Lowest outlet temperature for an active regeneration to begin.
    LightOff,
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
    /// Something speaks against hot gas here.
    PlaceHazardous,
    /// The engine runs.
    EngineRunning,
    /// The engine is warm.
    EngineWarm,
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
    pub(super) fn new(
        reading: Reading,
        value: Quantity,
        relation: Relation,
        limit: Limit,
        limit_value: Quantity,
    ) -> Self {
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
