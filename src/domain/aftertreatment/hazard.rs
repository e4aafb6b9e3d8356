//! What can hurt somebody at the filter, and when.
//!
//! States the usual cautions only; the operator's manual, local codes and licensed practice decide.

use super::profile::Profile;
use super::rules;
use super::situation::{Enclosure, Regeneration, Situation};
use serde::{Deserialize, Serialize};

/// A signal word of ANSI Z535, worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SignalWord {
    /// Will kill or seriously injure.
    Danger,
    /// Could kill or seriously injure.
    Warning,
    /// Could injure.
    Caution,
    /// Does not injure; can damage.
    Notice,
}

impl SignalWord {
    /// The word as it is printed.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Danger => "DANGER",
            Self::Warning => "WARNING",
            Self::Caution => "CAUTION",
            Self::Notice => "NOTICE",
        }
    }

    /// Finds a signal word by its word in files (lower case).
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        [Self::Danger, Self::Warning, Self::Caution, Self::Notice]
            .into_iter()
            .find(|signal| signal.word().eq_ignore_ascii_case(id))
    }
}

/// A hazard at the filter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hazard {
    /// Exhaust gas gathers in a closed space (carbon monoxide).
    ExhaustInClosedSpace,
    /// Hot gas sets what burns alight.
    Fire,
    /// Hot gas reaches people.
    PeopleAtOutlet,
    /// Hot metal burns skin.
    HotSurface,
    /// Soot beyond the stop level burns out of control or breaks the filter.
    OverloadedFilter,
    /// Ash and soot dust when the filter is opened.
    Dust,
}

impl Hazard {
    /// Every hazard.
    pub const ALL: [Self; 6] = [
        Self::ExhaustInClosedSpace,
        Self::Fire,
        Self::PeopleAtOutlet,
        Self::HotSurface,
        Self::OverloadedFilter,
        Self::Dust,
    ];

    /// The word in files and templates.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::ExhaustInClosedSpace => "exhaust_in_closed_space",
            Self::Fire => "fire",
            Self::PeopleAtOutlet => "people_at_outlet",
            Self::HotSurface => "hot_surface",
            Self::OverloadedFilter => "overloaded_filter",
            Self::Dust => "dust",
        }
    }

    /// Finds a hazard by its word in files.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|hazard| hazard.id() == id)
    }

    const fn bit(self) -> u8 {
        1 << self as u8
    }
}

/// A set of hazards.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(from = "Vec<Hazard>", into = "Vec<Hazard>")]
pub struct HazardSet(u8);

impl HazardSet {
    /// This set and one more, if `present`.
    #[must_use]
    pub const fn with_if(self, hazard: Hazard, present: bool) -> Self {
        if present { Self(self.0 | hazard.bit()) } else { self }
    }

    /// Whether the hazard is there.
    #[must_use]
    pub const fn contains(self, hazard: Hazard) -> bool {
        self.0 & hazard.bit() != 0
    }

    /// The hazards there are.
    pub fn iter(self) -> impl Iterator<Item = Hazard> {
        Hazard::ALL.into_iter().filter(move |hazard| self.contains(*hazard))
    }
}

impl From<Vec<Hazard>> for HazardSet {
    fn from(hazards: Vec<Hazard>) -> Self {
        hazards.into_iter().fold(Self::default(), |set, hazard| set.with_if(hazard, true))
    }
}

impl From<HazardSet> for Vec<Hazard> {
    fn from(set: HazardSet) -> Self {
        set.iter().collect()
    }
}

/// Bare metal held for 10 s burns skin from about this temperature, in deg C.
/// From memory, not confirmed: ISO 13732-1.
pub const BURNS_SKIN_FROM_C: f64 = 55.0;

/// Fine dry plant matter ignites from about this temperature, in deg C.
/// Source: US Forest Service, Spark Arrester Guide publication 0351 1305 (2003): 400-500 F; the lower end.
pub const DRY_PLANTS_IGNITE_FROM_C: f64 = 204.0;

/// Whether this is a place where hot exhaust gas must not be made: something burns, people or fuel are near, something
/// hangs over the outlet, or the gas cannot get away.
#[must_use]
pub fn place_is_hazardous(situation: &Situation) -> bool {
    something_burns(situation) || situation.people_near || situation.enclosure != Enclosure::Open
}

/// Whether hot gas or hot metal could set something alight here.
#[must_use]
pub fn something_burns(situation: &Situation) -> bool {
    situation.ground.burns() || situation.fuel_near || situation.overhead
}

/// Which hazards are present at this machine now.
#[must_use]
pub fn present(profile: &Profile, situation: &Situation) -> HazardSet {
    let regenerating = situation.regeneration != Regeneration::None;
    let hot = regenerating || situation.outlet_c >= DRY_PLANTS_IGNITE_FROM_C;
    let burns = something_burns(situation);
    // A regeneration that is due can begin, or be begun, at any moment.
    let due = || rules::active_is_due(profile, situation) || rules::parked_is_needed(profile, situation);
    let heat = (burns || situation.people_near) && (hot || due());
    HazardSet::default()
        .with_if(Hazard::ExhaustInClosedSpace, situation.engine_running && situation.enclosure != Enclosure::Open)
        .with_if(Hazard::Fire, heat && burns)
        .with_if(Hazard::PeopleAtOutlet, heat && situation.people_near)
        .with_if(Hazard::HotSurface, regenerating || situation.outlet_c >= BURNS_SKIN_FROM_C)
        .with_if(Hazard::OverloadedFilter, situation.soot_percent >= profile.stop_above_percent)
        .with_if(Hazard::Dust, situation.ash_percent >= profile.ash_service_percent)
}
