//! Making a checklist: each step is asked of the model, which says why it is there and whether missing it can hurt somebody.
//!
//! Never reads a clock, and gives the same list for the same profile.

use super::tasks::{Drafted, Missed, drafted};
use super::{Checklist, FrozenCaution, ListStep, MAKING, Task};
use crate::aftertreatment::explain::sentence;
use crate::aftertreatment::hazard::{Hazard, SignalWord};
use crate::aftertreatment::judgement::judge;
use crate::aftertreatment::profile::{Caution, Profile};
use crate::units::TemperatureUnit;

/// The checklist of a task on a machine.
#[must_use]
pub fn make(task: Task, profile: &Profile) -> Checklist {
    let mut cautions: Vec<FrozenCaution> = profile.cautions.iter().map(FrozenCaution::from).collect();
    cautions.sort_by_key(|caution| caution.signal);
    let steps = drafted(task, profile).into_iter().map(|step| judged(profile, step)).collect();
    Checklist { making: MAKING, task, machine: profile.id.clone(), machine_name: profile.name.clone(), cautions, steps }
}

/// What the model says about missing a step.
fn judged(profile: &Profile, step: Drafted) -> ListStep {
    let (hazards, reason, critical) = match step.missed {
        Missed::Brings { done, missed } => {
            let after = judge(profile, &missed);
            let before = judge(profile, &done).hazards;
            let brought: Vec<Hazard> = after.hazards.iter().filter(|hazard| !before.contains(*hazard)).collect();
            let critical = is_grave(profile, &brought);
            let asks = lower(after.route.instruction());
            let reason = if brought.is_empty() {
                format!("Otherwise the right thing to do is: {asks}.")
            } else {
                format!("Otherwise {}. The right thing to do is then: {asks}.", named(&brought))
            };
            (brought, reason, critical)
        }
        Missed::Does { action, at } => {
            let present: Vec<Hazard> = judge(profile, &at).hazards.iter().collect();
            let against = action.forbidden_by(profile, &at);
            let critical = against.is_some() && is_grave(profile, &present);
            let because = against.map(|ground| sentence(&[ground.clause(TemperatureUnit::Celsius)]));
            let because = because.unwrap_or_else(|| "Nothing in the model forbids it here.".to_owned());
            let reason = format!("{because} Otherwise {}.", named(&present));
            (present, reason, critical)
        }
        Missed::Procedure { critical, reason, hazards } => (hazards, reason, critical),
        Missed::Rule { critical, reason, hazards } => (hazards, reason.to_owned(), critical),
    };
    let mut hazards = hazards;
    hazards.sort_by_key(|hazard| (profile.caution(*hazard).map(|caution| caution.signal), *hazard));
    ListStep { id: step.id, action: step.action, reason, critical, hazards }
}

/// Whether one of the hazards could kill or seriously injure on this machine (ANSI Z535: DANGER or WARNING).
fn is_grave(profile: &Profile, hazards: &[Hazard]) -> bool {
    let grave = |caution: &Caution| caution.signal <= SignalWord::Warning;
    hazards.iter().filter_map(|hazard| profile.caution(*hazard)).any(grave)
}

fn named(hazards: &[Hazard]) -> String {
    let names: Vec<&str> = hazards.iter().map(|hazard| hazard.name()).collect();
    match names.as_slice() {
        [] => "it is not done as it should be".to_owned(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

fn lower(instruction: &str) -> String {
    let mut letters = instruction.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_lowercase).collect();
    first + letters.as_str()
}
