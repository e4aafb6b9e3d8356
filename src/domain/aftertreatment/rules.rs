//! The rules by which a situation is judged, each a named row with what it compares.
//!
//! The table's order is the order of importance: safety before the filter, the filter before the work. The first rule
//! that holds decides the route. A rule never looks at another rule's outcome.

mod comparison;
mod conditions;

pub use comparison::{Comparison, Fact, Limit, Reading, Relation};
pub use conditions::open_interlocks;
pub(super) use conditions::{blocked, burns_skin, fact, hazard, outlet, parked_is_needed, running, soot_at_stop_level};

use super::hazard::DRY_PLANTS_IGNITE_FROM_C;
use super::judgement::Route;
use super::kinetics;
use super::profile::{Profile, Way};
use super::situation::{Enclosure, Regeneration, Situation};
use conditions::{ash_due, percent, place_safe, soot_at_least, too_cool, too_often_held_back, too_slow, what_burns};
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
    /// The machine stands with a hot outlet over, beside or under something that burns.
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
    /// An active regeneration is due, but the exhaust of a warm engine is too cool for it to begin.
    ActiveDueTooCool,
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
    pub const TABLE: [(Self, Route); 19] = [
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
        (Self::ActiveDueTooCool, Route::WorkHarder),
        (Self::ActiveDue, Route::LetActiveRun),
        (Self::WorkTooLight, Route::WorkHarder),
        (Self::AshDue, Route::BookService),
        (Self::NothingDue, Route::WorkOn),
    ];

    /// Whether the rule holds for this situation, and what it compared to find out.
    #[must_use]
    pub fn examine(self, profile: &Profile, situation: &Situation) -> Finding {
        let mut finding = Finding { rule: self, compared: [None; 6] };
        self.compare(profile, situation, &mut |comparison| {
            finding.note(comparison);
            true
        });
        finding
    }

    /// Whether the rule holds. Looks no further than the first thing that is not so, and writes nothing down.
    #[must_use]
    pub(super) fn holds(self, profile: &Profile, situation: &Situation) -> bool {
        self.compare(profile, situation, &mut |comparison| comparison.holds())
    }

    /// Shows `see` what the rule compares, in order, as long as `see` wants to go on; tells whether it went to the end.
    #[inline]
    fn compare(self, profile: &Profile, s: &Situation, see: &mut impl FnMut(Comparison) -> bool) -> bool {
        match self {
            Self::BeyondStopLevel => see(soot_at_stop_level(profile, s)),
            Self::ParkedRunsInHazard => see(running(s, Regeneration::Parked)) && see(hazard(s)),
            Self::ActiveRunsInHazard => see(running(s, Regeneration::Active)) && see(hazard(s)),
            Self::ActiveDueInHazard => active_due(profile, s, see) && see(hazard(s)),
            Self::ParkedNeededInHazard => parked_needed(profile, s, see) && see(hazard(s)),
            Self::EngineRunsIndoors => {
                see(fact(Fact::EngineRunning, s.engine_running))
                    && see(fact(Fact::Enclosure(s.enclosure), s.enclosure == Enclosure::Closed))
            }
            Self::HotOverDryGround => {
                see(fact(Fact::Standing, s.standing))
                    && see(what_burns(s))
                    && see(outlet(s, DRY_PLANTS_IGNITE_FROM_C, Limit::DryPlantsIgnite))
            }
            Self::ParkedRuns => see(running(s, Regeneration::Parked)),
            Self::ParkedBlocked => parked_needed(profile, s, see) && see(blocked(profile, s)),
            Self::ParkedNeeded => parked_needed(profile, s, see),
            Self::ActiveRunsTooSlow => see(running(s, Regeneration::Active)) && see(too_slow(profile, s)),
            Self::ActiveRuns => see(running(s, Regeneration::Active)),
            Self::InhibitWithoutNeed => see(fact(Fact::InhibitOn, s.inhibit_on)) && see(place_safe(s)),
            Self::ActiveDueTooSlow => active_due(profile, s, see) && see(too_slow(profile, s)),
            Self::ActiveDueTooCool => {
                active_due(profile, s, see) && see(fact(Fact::EngineWarm, s.engine_warm)) && see(too_cool(profile, s))
            }
            Self::ActiveDue => active_due(profile, s, see),
            Self::WorkTooLight => work_too_light(profile, s, see),
            Self::AshDue => see(ash_due(profile, s)),
            Self::NothingDue => true,
        }
    }
}

/// Whether an active regeneration is due, or would be if the switch did not hold it back.
pub(super) fn active_is_due(profile: &Profile, s: &Situation) -> bool {
    active_due(profile, s, &mut |comparison| comparison.holds())
}

fn active_due(profile: &Profile, s: &Situation, see: &mut impl FnMut(Comparison) -> bool) -> bool {
    see(running(s, Regeneration::None))
        && see(fact(Fact::EngineRunning, s.engine_running))
        && see(soot_at_least(s, Limit::ActiveFrom, profile.active.from_percent))
        && see(fact(Fact::BandAllows(Way::Active), profile.band(s.soot_percent).allows(Way::Active)))
}

fn parked_needed(profile: &Profile, s: &Situation, see: &mut impl FnMut(Comparison) -> bool) -> bool {
    let by_soot = soot_at_least(s, Limit::ParkedFrom, profile.parked.from_percent);
    let by_soot_or_not = by_soot.holds() || !parked_is_needed(profile, s);
    see(running(s, Regeneration::None)) && see(if by_soot_or_not { by_soot } else { too_often_held_back(profile, s) })
}

/// More load is more heat, so it is advised only where heat is safe. Asks the kinetics only once the cheap comparisons
/// have held: this rule is the one that costs exponentials.
fn work_too_light(profile: &Profile, s: &Situation, see: &mut impl FnMut(Comparison) -> bool) -> bool {
    let runs = fact(Fact::EngineRunning, s.engine_running);
    let advised = soot_at_least(s, Limit::AdviseFrom, profile.passive.advise_from_percent);
    let safe = place_safe(s);
    if !(see(runs) && see(advised) && see(safe)) {
        return false;
    }
    let settles = || {
        let balance = percent(kinetics::balance_percent(profile, s));
        Comparison::at_least(Reading::BalanceLoad, balance, Limit::ActiveFrom, percent(profile.active.from_percent))
    };
    !(runs.holds() && advised.holds() && safe.holds()) || see(settles())
}

/// What a rule found in a situation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// The rule.
    pub rule: Rule,
    compared: [Option<Comparison>; 6],
}

impl Finding {
    fn note(&mut self, comparison: Comparison) {
        let free = self.compared.iter_mut().find(|slot| slot.is_none());
        debug_assert!(free.is_some(), "a rule compares at most six things");
        if let Some(slot) = free {
            *slot = Some(comparison);
        }
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
