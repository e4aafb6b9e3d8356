//! What a person could do now, and what speaks against it.
//!
//! Permission is not advice: something permitted can still be the wrong thing to do first.

use super::{Route, decide};
use crate::aftertreatment::hazard::{self, DRY_PLANTS_IGNITE_FROM_C};
use crate::aftertreatment::profile::{Profile, Way};
use crate::aftertreatment::rules::{self, Comparison, Fact, Limit, Rule};
use crate::aftertreatment::situation::{Enclosure, Interlock, Regeneration, Situation};
use serde::{Deserialize, Serialize};

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
        Grounds::of(profile, situation, decide(profile, situation)).against(self, profile, situation)
    }
}

/// What speaks against doing things here, found once for all actions.
pub(super) struct Grounds {
    /// Why the machine must not be used at all.
    stop: Option<Comparison>,
    /// The regeneration that is running.
    regenerating: Option<Comparison>,
    /// What makes the place hazardous.
    hazard: Option<Comparison>,
    /// The rule that decided, when its route is not work.
    not_work: Option<Rule>,
}

impl Grounds {
    pub(super) fn of(profile: &Profile, situation: &Situation, (rule, route): (Rule, Route)) -> Self {
        let regeneration = situation.regeneration;
        Self {
            stop: Some(rules::soot_at_stop_level(profile, situation)).filter(Comparison::holds),
            regenerating: (regeneration != Regeneration::None).then(|| rules::running(situation, regeneration)),
            hazard: Some(rules::hazard(situation)).filter(Comparison::holds),
            not_work: (!route.is_work()).then_some(rule),
        }
    }

    /// What speaks against an action; the first ground that does.
    pub(super) fn against(&self, action: Action, profile: &Profile, s: &Situation) -> Option<Comparison> {
        let Self { stop, regenerating, hazard, not_work } = *self;
        match action {
            // The last thing that a rule compares is what set it apart from the rules below it.
            Action::KeepWorking => not_work.and_then(|rule| rule.examine(profile, s).compared().last().copied()),
            Action::RaiseLoad => self.against(Action::KeepWorking, profile, s).or(hazard),
            Action::MoveMachine => stop.or(regenerating.filter(|_| s.regeneration == Regeneration::Parked)),
            Action::StartParked => {
                let here = stop.or(regenerating).or(hazard).or_else(|| not_called_for(profile, s));
                here.or_else(|| Some(rules::blocked(profile, s)).filter(Comparison::holds))
            }
            Action::SwitchInhibitOn => stop.or_else(|| hazard.is_none().then(|| rules::fact(Fact::PlaceSafe, true))),
            Action::SwitchInhibitOff => stop.or(hazard),
            // Safety outranks filter care: what must not be hot here is stopped, also in the middle of a cleaning.
            Action::SwitchEngineOff => regenerating.filter(|_| stop.is_none() && hazard.is_none()),
            Action::LeaveUnattended => regenerating.or_else(|| self.needs_watching(profile, s)),
            Action::TouchOutlet => regenerating.or(Some(rules::burns_skin(s)).filter(Comparison::holds)),
        }
    }

    /// Why somebody must stay although no regeneration runs.
    fn needs_watching(&self, profile: &Profile, s: &Situation) -> Option<Comparison> {
        // The gravest first.
        if let Some(stop) = self.stop.filter(|_| s.engine_running) {
            return Some(stop);
        }
        if !s.standing {
            return Some(rules::fact(Fact::Standing, false));
        }
        if !s.park_brake {
            return Some(rules::fact(Fact::InterlockOpen(Interlock::ParkBrake), true));
        }
        let hot = rules::outlet(s, DRY_PLANTS_IGNITE_FROM_C, Limit::DryPlantsIgnite);
        if hazard::something_burns(s) && hot.holds() {
            return Some(hot);
        }
        if !s.engine_running {
            return None;
        }
        // Under a roof, too, the gas gathers while nobody looks.
        let gathers = rules::fact(Fact::Enclosure(s.enclosure), s.enclosure != Enclosure::Open);
        let begins = || self.hazard.filter(|_| rules::active_is_due(profile, s));
        Some(gathers).filter(Comparison::holds).or_else(begins)
    }

    /// The actions that nothing speaks against.
    pub(super) fn permitted(&self, profile: &Profile, situation: &Situation) -> ActionSet {
        let free = |action: &Action| match action {
            Action::KeepWorking => self.not_work.is_none(),
            Action::RaiseLoad => self.not_work.is_none() && self.hazard.is_none(),
            other => self.against(*other, profile, situation).is_none(),
        };
        Action::ALL.into_iter().filter(free).collect()
    }
}

/// That neither the band leaves a parked regeneration open nor the machine asks for one; nothing when one of them does.
fn not_called_for(profile: &Profile, s: &Situation) -> Option<Comparison> {
    let allows = rules::fact(Fact::BandAllows(Way::Parked), profile.band(s.soot_percent).allows(Way::Parked));
    (!allows.holds() && !rules::parked_is_needed(profile, s)).then_some(allows)
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
