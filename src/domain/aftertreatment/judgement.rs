//! The model's answer for a situation: what to do, which lamps, what is permitted and what is forbidden.
//!
//! Total and unique: every situation of every profile has exactly one judgement. Never asks who is answering.

mod action;

pub use action::{Action, ActionSet};

use super::hazard::{self, Hazard, HazardSet};
use super::lamp::{Lamp, LampSet};
use super::profile::{Caution, Profile};
use super::rules::{Finding, Rule};
use super::situation::{Regeneration, Situation};
use action::Grounds;
use serde::{Deserialize, Serialize};

/// What to do first. Ordered from mild to severe.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Route {
    /// Work on.
    WorkOn,
    /// Work on and book a service cleaning.
    BookService,
    /// Work on with more load.
    WorkHarder,
    /// Let the active regeneration run to its end.
    LetActiveRun,
    /// Raise the engine speed.
    RaiseSpeed,
    /// Switch the inhibit off.
    ReleaseInhibit,
    /// Stay until the parked regeneration has ended.
    StayWithParked,
    /// Start a parked regeneration.
    StartParked,
    /// Meet the starting conditions, then start.
    MeetConditions,
    /// Move to a safe place first.
    MoveFirst,
    /// Hold the regeneration back and move to a safe place.
    HoldBackAndMove,
    /// Break the parked regeneration off.
    BreakOffParked,
    /// Stop and call service.
    StopAndCall,
}

impl Route {
    /// Every route, mildest first.
    pub const ALL: [Self; 13] = [
        Self::WorkOn,
        Self::BookService,
        Self::WorkHarder,
        Self::LetActiveRun,
        Self::RaiseSpeed,
        Self::ReleaseInhibit,
        Self::StayWithParked,
        Self::StartParked,
        Self::MeetConditions,
        Self::MoveFirst,
        Self::HoldBackAndMove,
        Self::BreakOffParked,
        Self::StopAndCall,
    ];

    /// Whether the machine goes on working on this route.
    #[must_use]
    pub const fn is_work(self) -> bool {
        matches!(
            self,
            Self::WorkOn
                | Self::BookService
                | Self::WorkHarder
                | Self::LetActiveRun
                | Self::RaiseSpeed
                | Self::ReleaseInhibit
        )
    }

    /// How severe the route is: moving away in its two forms counts the same.
    #[must_use]
    pub const fn severity(self) -> u8 {
        match self {
            Self::HoldBackAndMove => Self::MoveFirst as u8,
            other => other as u8,
        }
    }
}

/// The model's answer for one situation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judgement {
    /// The band, as its place in the profile's list.
    pub band: usize,
    /// The lamps that must be lit.
    pub lamps: LampSet,
    /// Whether engine power is reduced.
    pub derated: bool,
    /// What to do first.
    pub route: Route,
    /// The rule that decided, with what it compared.
    pub reason: Finding,
    /// What may be done now; whatever is not here is forbidden.
    pub permitted: ActionSet,
    /// What can hurt somebody here and now.
    pub hazards: HazardSet,
}

impl Judgement {
    /// What must not be done now.
    #[must_use]
    pub fn forbidden(&self) -> ActionSet {
        Action::ALL.into_iter().filter(|action| !self.permitted.contains(*action)).collect()
    }

    /// The hazards with their signal words, worst first, as the profile words them.
    #[must_use]
    pub fn cautions<'p>(&self, profile: &'p Profile) -> Vec<&'p Caution> {
        let mut cautions: Vec<_> = self.hazards.iter().filter_map(|hazard: Hazard| profile.caution(hazard)).collect();
        cautions.sort_by_key(|caution| caution.signal);
        cautions
    }
}

/// Judges a situation. Readings outside [`Situation::problems`]' ranges are judged as they stand.
#[must_use]
pub fn judge(profile: &Profile, situation: &Situation) -> Judgement {
    let (rule, route) = decide(profile, situation);
    let band = profile.band_place(situation.soot_percent);
    Judgement {
        band,
        lamps: lamps(profile, situation),
        derated: profile.bands[band].power_percent < 100.0 || situation.inhibits >= profile.inhibit.derate_after,
        route,
        reason: rule.examine(profile, situation),
        permitted: Grounds::of(profile, situation, (rule, route)).permitted(profile, situation),
        hazards: hazard::present(profile, situation),
    }
}

/// The first rule of the table that holds; the last one always does.
fn decide(profile: &Profile, situation: &Situation) -> (Rule, Route) {
    let decisive = Rule::TABLE.into_iter().find(|(rule, _)| rule.holds(profile, situation));
    decisive.unwrap_or((Rule::NothingDue, Route::WorkOn))
}

/// The lamps that must be lit: by the soot, by the heat, by a regeneration in progress, by the switch.
#[must_use]
pub fn lamps(profile: &Profile, situation: &Situation) -> LampSet {
    let mut lit = profile.band(situation.soot_percent).lamps;
    if situation.outlet_c >= profile.exhaust_hot_at_c || situation.regeneration != Regeneration::None {
        lit = lit.with(Lamp::ExhaustHot);
    }
    if situation.regeneration == Regeneration::Active {
        lit = lit.with(Lamp::Filter);
    }
    if situation.inhibit_on {
        lit = lit.with(Lamp::Inhibit);
    }
    lit
}

/// Why a route is not the right one here: the rule that would lead to it, or the rule that outranks it.
#[must_use]
pub fn why_not(profile: &Profile, situation: &Situation, route: Route) -> Option<Finding> {
    Rule::TABLE
        .iter()
        .filter(|(_, leads_to)| *leads_to == route)
        .map(|(rule, _)| rule.examine(profile, situation))
        .max_by_key(|finding| finding.compared().filter(|comparison| comparison.holds()).count())
}

#[cfg(test)]
mod tests;
