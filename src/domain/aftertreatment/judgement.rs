//! The model's answer for a situation: what to do, which lamps, what is permitted and what is forbidden.
//!
//! Total and unique: every situation of every profile has exactly one judgement. Never asks who is answering.

use super::hazard::{self, DRY_PLANTS_IGNITE_FROM_C, Hazard, HazardSet, place_is_hazardous};
use super::lamp::{Lamp, LampSet};
use super::profile::Profile;
use super::rules::{self, Comparison, Fact, Finding, Limit, Rule};
use super::situation::{Regeneration, Situation};
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

    /// How severe the route is: moving away in its two forms counts the same.
    #[must_use]
    pub const fn severity(self) -> u8 {
        match self {
            Self::HoldBackAndMove => Self::MoveFirst as u8,
            other => other as u8,
        }
    }
}

/// Something a person could do now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// Go on working.
    KeepWorking,
    /// Give the engine more load.
    RaiseLoad,
    /// Drive the machine to another place.
    MoveMachine,
    /// Start a parked regeneration.
    StartParked,
    /// Switch the inhibit on.
    SwitchInhibitOn,
    /// Switch the inhibit off.
    SwitchInhibitOff,
    /// Switch the engine off.
    SwitchEngineOff,
    /// Walk away from the machine.
    LeaveUnattended,
    /// Touch the outlet or the filter housing.
    TouchOutlet,
}

impl Action {
    /// Every action.
    pub const ALL: [Self; 9] = [
        Self::KeepWorking,
        Self::RaiseLoad,
        Self::MoveMachine,
        Self::StartParked,
        Self::SwitchInhibitOn,
        Self::SwitchInhibitOff,
        Self::SwitchEngineOff,
        Self::LeaveUnattended,
        Self::TouchOutlet,
    ];

    /// What forbids this action now, or nothing when it is permitted.
    #[must_use]
    pub fn forbidden_by(self, profile: &Profile, situation: &Situation) -> Option<Comparison> {
        let s = situation;
        let stop = || Some(rules::soot_at_stop_level(profile, s)).filter(Comparison::holds);
        let runs = |which| Some(rules::running(s, which)).filter(Comparison::holds);
        let regenerating = || runs(Regeneration::Active).or_else(|| runs(Regeneration::Parked));
        let hazard = || Some(rules::hazard(s)).filter(Comparison::holds);
        match self {
            Self::KeepWorking | Self::RaiseLoad => forbids_work(profile, s),
            Self::MoveMachine => stop().or_else(|| runs(Regeneration::Parked)),
            Self::StartParked => stop()
                .or_else(regenerating)
                .or_else(hazard)
                .or_else(|| Some(rules::blocked(profile, s)).filter(Comparison::holds)),
            Self::SwitchInhibitOn => {
                stop().or_else(|| (!place_is_hazardous(s)).then(|| rules::fact(Fact::PlaceSafe, true)))
            }
            Self::SwitchInhibitOff => stop().or_else(hazard),
            Self::SwitchEngineOff => stop().is_none().then(regenerating).flatten(),
            Self::LeaveUnattended => {
                let burns = s.ground.burns() || s.fuel_near || s.overhead;
                let hot = rules::outlet(s, DRY_PLANTS_IGNITE_FROM_C, Limit::DryPlantsIgnite);
                regenerating().or_else(|| Some(hot).filter(|hot| burns && hot.holds()))
            }
            Self::TouchOutlet => regenerating().or_else(|| Some(rules::burns_skin(s)).filter(Comparison::holds)),
        }
    }
}

/// What makes work itself wrong: the decisive comparison of a rule whose route is not work.
fn forbids_work(profile: &Profile, situation: &Situation) -> Option<Comparison> {
    let (finding, route) = decide(profile, situation);
    let works = matches!(
        route,
        Route::WorkOn
            | Route::BookService
            | Route::WorkHarder
            | Route::LetActiveRun
            | Route::RaiseSpeed
            | Route::ReleaseInhibit
    );
    if works { None } else { finding.compared().last().copied() }
}

/// A set of actions.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(from = "Vec<Action>", into = "Vec<Action>")]
pub struct ActionSet(u16);

impl ActionSet {
    /// Whether the action is in the set.
    #[must_use]
    pub const fn contains(self, action: Action) -> bool {
        self.0 & (1 << action as u16) != 0
    }

    /// The actions in the set.
    pub fn iter(self) -> impl Iterator<Item = Action> {
        Action::ALL.into_iter().filter(move |action| self.contains(*action))
    }
}

impl FromIterator<Action> for ActionSet {
    fn from_iter<I: IntoIterator<Item = Action>>(actions: I) -> Self {
        Self(actions.into_iter().fold(0, |bits, action| bits | 1 << action as u16))
    }
}

impl From<Vec<Action>> for ActionSet {
    fn from(actions: Vec<Action>) -> Self {
        actions.into_iter().collect()
    }
}

impl From<ActionSet> for Vec<Action> {
    fn from(set: ActionSet) -> Self {
        set.iter().collect()
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
    pub fn cautions<'p>(&self, profile: &'p Profile) -> Vec<&'p super::profile::Caution> {
        let mut cautions: Vec<_> = self.hazards.iter().filter_map(|hazard: Hazard| profile.caution(hazard)).collect();
        cautions.sort_by_key(|caution| caution.signal);
        cautions
    }
}

/// Judges a situation. Readings outside [`Situation::problems`]' ranges are judged as they stand.
#[must_use]
pub fn judge(profile: &Profile, situation: &Situation) -> Judgement {
    let (reason, route) = decide(profile, situation);
    let band = profile.bands.partition_point(|band| band.from_percent <= situation.soot_percent).saturating_sub(1);
    Judgement {
        band,
        lamps: lamps(profile, situation),
        derated: profile.bands[band].power_percent < 100.0 || situation.inhibits >= profile.inhibit.derate_after,
        route,
        reason,
        permitted: Action::ALL.into_iter().filter(|action| action.forbidden_by(profile, situation).is_none()).collect(),
        hazards: hazard::present(profile, situation),
    }
}

fn decide(profile: &Profile, situation: &Situation) -> (Finding, Route) {
    Rule::TABLE
        .iter()
        .map(|(rule, route)| (rule.examine(profile, situation), *route))
        .find(|(finding, _)| finding.holds())
        .unwrap_or_else(|| (Rule::NothingDue.examine(profile, situation), Route::WorkOn))
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
