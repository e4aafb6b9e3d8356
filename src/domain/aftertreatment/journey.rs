//! A run of duties and operator actions: the trajectory of temperature and soot, what happens on the way, and what it costs.
//!
//! Work goes through temperature, mass and controller together; a moment at which something changes is found by solving for
//! it, not by stepping seconds. Pure and deterministic: the same profile, start and duty give the same bytes.
//!
//! Never advises: what would be right at a moment is [`judge`]'s answer for the situation there. Its limits are those of
//! [`super::kinetics`], [`super::thermal`] and [`super::controller`]; it does not know back-pressure.
//!
//! [`judge`]: super::judgement::judge

mod bench;
mod costs;
mod run;
#[cfg(test)]
mod tests;

pub use bench::Bench;
pub use costs::Costs;

use super::controller::state::State;
use super::happening::Happening;
use super::judgement::{Judgement, judge};
use super::kinetics::{MEASURED_FROM_C, MEASURED_TO_C};
use super::operator::OperatorAction;
use super::profile::Profile;
use super::situation::Situation;

/// A stretch of steady work.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Length in minutes, at least 0. A stretch of 0 is for its actions alone.
    pub minutes: f64,
    /// Engine load the work asks for, in percent, 0 to 125. A machine that has lost power gives less.
    pub load_percent: f64,
    /// Engine speed in rpm, at least 0. At 0 the engine does not run.
    pub speed_rpm: f64,
    /// Ambient temperature in deg C, -50 to 60.
    pub ambient_c: f64,
    /// What the operator does at its beginning, in order.
    pub actions: Vec<OperatorAction>,
}

impl Stretch {
    /// Work at the ambient temperature the profile's map holds for, with nothing done at its beginning.
    #[must_use]
    pub const fn work(profile: &Profile, minutes: f64, load_percent: f64, speed_rpm: f64) -> Self {
        let ambient_c = profile.thermal.reference_ambient_c;
        Self { minutes, load_percent, speed_rpm, ambient_c, actions: Vec::new() }
    }

    /// The same stretch with one more action at its beginning.
    #[must_use]
    pub fn with(mut self, action: OperatorAction) -> Self {
        self.actions.push(action);
        self
    }
}

/// One point of the trajectory.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Seconds since the journey began.
    pub seconds: f64,
    /// Everything that can be seen or read then. Load and speed are the engine's own: less than asked for when power is lost.
    pub situation: Situation,
    /// What the controller is at.
    pub state: State,
    /// Engine power left, in percent of full power.
    pub power_percent: f64,
}

/// Something that happened, with everything that could be read when it had.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// What happened.
    pub happening: Happening,
    /// When, and the readings then.
    pub point: Point,
}

/// A journey that has been made.
#[derive(Clone, Debug, PartialEq)]
pub struct Journey {
    /// The trajectory: in time order, dense where the temperature moves, at most ten minutes apart elsewhere. Straight lines
    /// between its points are good enough to draw.
    pub points: Vec<Point>,
    /// What happened, in time order.
    pub events: Vec<Event>,
    /// What it cost.
    pub costs: Costs,
    /// How things stand at the end.
    pub end: Point,
}

impl Journey {
    /// Makes a journey. `start` holds the first readings, the state of switches and brakes, and the place; its load and speed
    /// are replaced by the first stretch's. The place does not change on the way.
    #[must_use]
    pub fn make(profile: &Profile, start: &Situation, duty: &[Stretch]) -> Self {
        let mut run = run::Run::new(profile, start);
        for stretch in duty {
            run.stretch(stretch);
        }
        run.finish()
    }

    /// What is right to do at its end.
    #[must_use]
    pub fn judgement(&self, profile: &Profile) -> Judgement {
        judge(profile, &self.end.situation)
    }

    /// The readings at a moment (seconds since the beginning; held at the ends): numbers straight between the points around
    /// it, everything else as at the point before it.
    #[must_use]
    pub fn at(&self, seconds: f64) -> Point {
        let after = self.points.partition_point(|point| point.seconds <= seconds);
        let Some(before) = after.checked_sub(1).and_then(|place| self.points.get(place)) else {
            return self.points.first().copied().unwrap_or(self.end);
        };
        let Some(next) = self.points.get(after) else { return self.end };
        let share = (seconds - before.seconds) / (next.seconds - before.seconds);
        let (a, b) = (before.situation, next.situation);
        let between = |from: f64, to: f64| from + (to - from) * share;
        let situation = Situation {
            soot_percent: between(a.soot_percent, b.soot_percent),
            ash_percent: between(a.ash_percent, b.ash_percent),
            outlet_c: between(a.outlet_c, b.outlet_c),
            ..a
        };
        Point { seconds, situation, ..*before }
    }

    /// Whether soot burnt outside the measured range of temperatures on the way while the engine ran.
    #[must_use]
    pub fn extrapolated(&self) -> bool {
        let outside = |point: &Point| !(MEASURED_FROM_C..=MEASURED_TO_C).contains(&point.situation.outlet_c);
        self.points.iter().any(|point| point.situation.engine_running && outside(point))
    }
}
