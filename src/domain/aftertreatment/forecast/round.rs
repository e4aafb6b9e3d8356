//! One round of a duty, worked out once: its steps, what each does to the soot, and what all of them do together.

use crate::aftertreatment::burning::{Burning, Passage};
use crate::aftertreatment::crossing::Leg;
use crate::aftertreatment::forecast::LONGEST_H;
use crate::aftertreatment::journey::Stretch;
use crate::aftertreatment::operator::OperatorAction;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::thermal::{Approach, steady_outlet_c};

const G_PER_MG: f64 = 1.0e-3;
const S_PER_MIN: f64 = 60.0;
const S_PER_H: f64 = 3600.0;

/// A round of the duty in its steady rhythm.
pub(super) struct Round<'p> {
    steps: Vec<Step<'p>>,
    seconds: f64,
    /// Share of the soot at its beginning that burns in a round.
    burnt: f64,
    /// Soot in percent that a round leaves of what comes in it.
    added: f64,
}

struct Step<'p> {
    burning: Burning<'p>,
    /// Seconds from the beginning of the round to that of the approach.
    begins_s: f64,
    from_s: f64,
    to_s: f64,
    passage: Passage,
    flow_per_s: f64,
    engine_runs: bool,
    outlet_c: (f64, f64),
}

/// A stretch before its temperatures are known.
struct Phase {
    seconds: f64,
    target_c: f64,
    time_constant_s: f64,
    flow_per_s: f64,
    engine_runs: bool,
}

impl<'p> Round<'p> {
    pub(super) fn of(profile: &'p Profile, duty: &[Stretch]) -> Option<Self> {
        let phases = phases(profile, duty);
        let seconds: f64 = phases.iter().map(|phase| phase.seconds).sum();
        let mut outlet_c = repeating_outlet_c(&phases)?;
        let mut round = Self { steps: Vec::new(), seconds, burnt: 0.0, added: 0.0 };
        let mut begins_s = 0.0;
        for phase in &phases {
            let Phase { target_c, time_constant_s, .. } = *phase;
            let approach = Approach { from_c: outlet_c, target_c, time_constant_s };
            round.walk(profile, phase, approach, begins_s);
            outlet_c = approach.at(phase.seconds);
            begins_s += phase.seconds;
        }
        Some(round)
    }

    fn walk(&mut self, profile: &'p Profile, phase: &Phase, approach: Approach, begins_s: f64) {
        let burning = Burning::new(profile, approach, phase.engine_runs);
        let (mut steps, mut from_s) = (burning.steps(), 0.0);
        while from_s < phase.seconds {
            let to_s = steps.end(from_s, phase.seconds);
            let passage = burning.passage(from_s, to_s);
            self.burnt += (1.0 - self.burnt) * passage.burnt;
            self.added = passage.after(self.added, phase.flow_per_s);
            let Phase { flow_per_s, engine_runs, .. } = *phase;
            let outlet_c = (approach.at(from_s), approach.at(to_s));
            self.steps.push(Step { burning, begins_s, from_s, to_s, passage, flow_per_s, engine_runs, outlet_c });
            from_s = to_s;
        }
    }

    pub(super) const fn seconds(&self) -> f64 {
        self.seconds
    }

    /// Soot load in percent at the beginning of a round that ends as it began. Infinite when soot comes and nothing burns.
    fn repeats_percent(&self, from_percent: f64) -> f64 {
        if self.added == 0.0 && self.burnt == 0.0 { from_percent } else { self.added / self.burnt }
    }

    /// Soot load in percent after so many rounds.
    fn after_rounds(&self, from_percent: f64, rounds: f64) -> f64 {
        if self.burnt == 0.0 {
            return from_percent + rounds * self.added;
        }
        // Not from the load where it settles: where next to nothing burns that is so far away that nothing of the difference
        // would be left.
        let burnt = -libm::expm1(rounds * libm::log1p(-self.burnt));
        from_percent * (1.0 - burnt) + self.added * burnt / self.burnt
    }

    /// Lowest and highest soot load in percent of a round once the soot has settled.
    pub(super) fn settles(&self, from_percent: f64) -> (f64, f64) {
        let mut soot = self.repeats_percent(from_percent);
        let mut range = (soot, soot);
        for step in &self.steps {
            soot = step.passage.after(soot, step.flow_per_s);
            range = (range.0.min(soot), range.1.max(soot));
        }
        range
    }

    /// Hours until the soot load is first at a level; `None` when it never is.
    pub(super) fn hours_to(&self, from_percent: f64, level: f64) -> Option<f64> {
        let up = level > from_percent;
        let met_in = |rounds: f64| self.first_at(self.after_rounds(from_percent, rounds), level, up);
        let hours = |rounds: f64, seconds: f64| (rounds * self.seconds + seconds) / S_PER_H;
        if let Some(seconds) = met_in(0.0) {
            return Some(hours(0.0, seconds));
        }
        // Soot at the rounds' beginnings only rises or only falls: the first round that gets there is found by halving.
        let (mut not_yet, mut met) = (0.0, 1.0);
        while met_in(met).is_none() {
            if hours(met, 0.0) > LONGEST_H {
                return None;
            }
            (not_yet, met) = (met, met * 2.0);
        }
        while met - not_yet > 1.0 {
            let middle = libm::floor((met + not_yet) / 2.0);
            if met_in(middle).is_some() { met = middle } else { not_yet = middle }
        }
        met_in(met).map(|seconds| hours(met, seconds)).filter(|hours| *hours <= LONGEST_H)
    }

    /// Seconds into a round that begins with `soot_percent` until the soot is first at a level.
    fn first_at(&self, soot_percent: f64, level: f64, up: bool) -> Option<f64> {
        let beyond = |soot: f64| if up { soot >= level } else { soot <= level };
        let mut soot = soot_percent;
        if beyond(soot) {
            return Some(0.0);
        }
        for step in &self.steps {
            let Step { burning, from_s, to_s, flow_per_s, .. } = step;
            let mut leg = Leg { burning, from_s: *from_s, to_s: *to_s, soot_percent: soot, flow_per_s: *flow_per_s };
            let end = step.passage.after(soot, *flow_per_s);
            if beyond(end) {
                return Some(step.begins_s + leg.meets(level, end));
            }
            if let Some(turns_s) = leg.turns(&step.passage, [level].into_iter()) {
                leg.to_s = turns_s;
                let turning = leg.passage().after(soot, *flow_per_s);
                if beyond(turning) {
                    return Some(step.begins_s + leg.meets(level, turning));
                }
            }
            soot = end;
        }
        None
    }

    /// Mean soot flow in mg/s while the engine runs; 0 when it never does.
    pub(super) fn mean_flow_mg_per_s(&self, profile: &Profile) -> f64 {
        let running = self.steps.iter().filter(|step| step.engine_runs);
        let (percent, seconds) = running.fold((0.0, 0.0), |(percent, seconds), step| {
            let length_s = step.to_s - step.from_s;
            (percent + step.flow_per_s * length_s, seconds + length_s)
        });
        if seconds > 0.0 { percent / seconds / 100.0 * profile.filter.full_load_g() / G_PER_MG } else { 0.0 }
    }

    /// Lowest and highest outlet temperature in deg C while the engine runs; of the whole round when it never does.
    pub(super) fn outlet_c(&self) -> (f64, f64) {
        let never = !self.steps.iter().any(|step| step.engine_runs);
        let running = self.steps.iter().filter(|step| never || step.engine_runs);
        running.fold((f64::INFINITY, f64::NEG_INFINITY), |range, step| {
            let (a, b) = step.outlet_c;
            (range.0.min(a).min(b), range.1.max(a).max(b))
        })
    }
}

fn phases(profile: &Profile, duty: &[Stretch]) -> Vec<Phase> {
    let mut key_on = true;
    let mut phases = Vec::new();
    for stretch in duty {
        for action in &stretch.actions {
            match action {
                OperatorAction::KeyOn => key_on = true,
                OperatorAction::KeyOff => key_on = false,
                _ => {}
            }
        }
        let engine_runs = key_on && stretch.speed_rpm > 0.0;
        let Stretch { minutes, load_percent, speed_rpm, ambient_c, .. } = *stretch;
        let (target_c, time_constant_s, flow_mg) = if engine_runs {
            let target_c = steady_outlet_c(profile, load_percent, speed_rpm, ambient_c);
            (target_c, profile.thermal.time_constant_s, profile.soot_mg_per_s.at(load_percent, speed_rpm).value)
        } else {
            (ambient_c, profile.thermal.cooling_s, 0.0)
        };
        let flow_per_s = flow_mg * G_PER_MG / profile.filter.full_load_g() * 100.0;
        let seconds = minutes.max(0.0) * S_PER_MIN;
        phases.push(Phase { seconds, target_c, time_constant_s, flow_per_s, engine_runs });
    }
    phases
}

/// The outlet temperature in deg C at the beginning of a round that ends at the same temperature. `None` when the round takes
/// no time.
fn repeating_outlet_c(phases: &[Phase]) -> Option<f64> {
    let (mut kept, mut added_c) = (1.0, 0.0);
    for phase in phases {
        let left = libm::exp(-phase.seconds / phase.time_constant_s);
        kept *= left;
        added_c = added_c * left + phase.target_c * (1.0 - left);
    }
    (kept < 1.0).then(|| added_c / (1.0 - kept))
}
