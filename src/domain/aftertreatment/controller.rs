//! The machine's own controller of the filter: when a regeneration is due, what hinders it, when it begins, ends or is broken
//! off, how often it was held back, and how much power is left.
//!
//! A state machine between moments: [`Controller::settle`] makes every change that the present readings call for,
//! [`Controller::pass`] lets time go by, [`Controller::next_change_s`] says how long nothing can happen by time alone. Never
//! sees the place the machine stands in: that a parked regeneration must not run over straw is the operator's to know.
//! Its timings are training values of the profile; a real machine's differ, and its operator's manual decides.

mod power;
pub mod signals;
pub mod state;
#[cfg(test)]
mod tests;

use super::happening::{Happening, Hindrance};
use super::profile::Profile;
use super::rules;
use super::situation::{Interlock, Regeneration, Situation};
use power::Power;
use state::{State, parked_hindrance};

const S_PER_MIN: f64 = 60.0;
const S_PER_H: f64 = 3600.0;
/// A timer with less than this left, in s, has run out: sums of steps end within rounding of it.
const OVER_S: f64 = 1.0e-6;

/// The controller with its timers. The readings and counts that people see are in the [`Situation`].
#[derive(Clone, Debug, PartialEq)]
pub struct Controller {
    state: State,
    /// Seconds that the running regeneration has run.
    runs_s: f64,
    /// Seconds that the engine has turned too slowly for it.
    slow_s: f64,
    /// Seconds left of the pause before the next try.
    pause_s: f64,
    /// Seconds that a cold engine has run.
    warming_s: f64,
    /// Seconds that the engine has stood switched off.
    off_s: f64,
    power: Power,
}

impl Controller {
    /// The controller of a machine as it is found. A regeneration that is running is taken to have just begun.
    #[must_use]
    pub fn new(profile: &Profile, situation: &Situation) -> Self {
        Self {
            state: State::of(profile, situation),
            runs_s: 0.0,
            slow_s: 0.0,
            pause_s: 0.0,
            warming_s: 0.0,
            off_s: 0.0,
            power: Power::new(profile, situation),
        }
    }

    /// The present state.
    #[must_use]
    pub const fn state(&self) -> State {
        self.state
    }

    /// Engine power left, in percent of full power.
    #[must_use]
    pub const fn power_percent(&self) -> f64 {
        self.power.percent()
    }

    /// Makes every change that the readings call for at this moment, and adds each to `told`.
    pub fn settle(&mut self, profile: &Profile, s: &mut Situation, told: &mut Vec<Happening>) {
        // One change can call for the next: a regeneration that ends leaves a state to be found. Each branch of `change`
        // leads away from itself, so this ends; the bound is for a profile that nobody thought of.
        for _ in 0..8 {
            if !self.change(profile, s, told) {
                break;
            }
        }
        if let Some((from_percent, to_percent)) = self.power.settle(profile, s) {
            told.push(Happening::Power { from_percent, to_percent });
        }
    }

    fn change(&mut self, profile: &Profile, s: &mut Situation, told: &mut Vec<Happening>) -> bool {
        match s.regeneration {
            Regeneration::None => self.idle(profile, s, told),
            running => {
                if let Some(hindrance) = self.breaks_off(profile, s) {
                    self.interrupt(profile, s, hindrance, told);
                } else if self.is_complete(profile, s) {
                    self.complete(profile, s, running, told);
                } else {
                    let running = if running == Regeneration::Active { State::Active } else { State::Parked };
                    self.state = running;
                    return false;
                }
                true
            }
        }
    }

    /// Nothing is running: find out what is due, and begin an active regeneration when nothing hinders it.
    fn idle(&mut self, profile: &Profile, s: &mut Situation, told: &mut Vec<Happening>) -> bool {
        let mut now = State::of(profile, s);
        if now == State::Due(None) || now == State::Due(Some(Hindrance::BySwitch)) {
            let pausing = self.pause_s > OVER_S;
            if s.inhibit_on && !pausing && State::due_but_for_the_switch(profile, s) {
                s.inhibits += 1;
                self.pause_s = profile.active.retry_after_min * S_PER_MIN;
                told.push(Happening::HeldBack(s.inhibits));
                now = State::of(profile, s);
            } else if !s.inhibit_on && pausing {
                now = State::Due(Some(Hindrance::Pause));
            } else if !s.inhibit_on {
                self.begin(s, Regeneration::Active, told);
                return true;
            }
        }
        if now != self.state {
            self.state = now;
            match now {
                State::Due(Some(hindrance)) => told.push(Happening::Waits(Regeneration::Active, hindrance)),
                State::ParkedNeeded(Some(hindrance)) => told.push(Happening::Waits(Regeneration::Parked, hindrance)),
                State::ParkedNeeded(None) => told.push(Happening::AsksForParked),
                State::ServiceOnly => told.push(Happening::ServiceOnly),
                State::NotNeeded | State::Due(None) | State::Active | State::Parked => {}
            }
        }
        false
    }

    fn begin(&mut self, s: &mut Situation, which: Regeneration, told: &mut Vec<Happening>) {
        s.regeneration = which;
        (self.runs_s, self.slow_s) = (0.0, 0.0);
        told.push(Happening::Started(which));
    }

    /// The operator asks for a parked regeneration; the machine accepts or says why not.
    pub fn start_parked(&mut self, profile: &Profile, s: &mut Situation, told: &mut Vec<Happening>) {
        match parked_hindrance(profile, s) {
            Some(hindrance) => told.push(Happening::Refused(hindrance)),
            None => self.begin(s, Regeneration::Parked, told),
        }
    }

    /// The operator breaks a parked regeneration off. Without one nothing happens.
    pub fn break_off_parked(&mut self, profile: &Profile, s: &mut Situation, told: &mut Vec<Happening>) {
        if s.regeneration == Regeneration::Parked {
            self.interrupt(profile, s, Hindrance::Operator, told);
        }
    }

    /// The operator switches the inhibit off: the machine need not wait out its pause.
    pub const fn release(&mut self) {
        self.pause_s = 0.0;
    }

    /// What breaks the running regeneration off now.
    fn breaks_off(&self, profile: &Profile, s: &Situation) -> Option<Hindrance> {
        if !s.engine_running {
            return Some(Hindrance::EngineOff);
        }
        if s.soot_percent >= profile.stop_above_percent {
            return Some(Hindrance::ServiceOnly);
        }
        if s.regeneration == Regeneration::Parked {
            return rules::open_interlocks(profile, s).next().map(Hindrance::Interlock);
        }
        if s.inhibit_on {
            return Some(Hindrance::BySwitch);
        }
        let slow = s.speed_rpm < profile.active.min_speed_rpm && self.slow_s + OVER_S >= profile.active.slow_for_s;
        slow.then_some(Hindrance::TooSlow)
    }

    fn interrupt(&mut self, profile: &Profile, s: &mut Situation, hindrance: Hindrance, told: &mut Vec<Happening>) {
        let which = s.regeneration;
        s.regeneration = Regeneration::None;
        if which == Regeneration::Active {
            s.inhibits += 1;
            self.pause_s = profile.active.retry_after_min * S_PER_MIN;
        }
        told.push(Happening::Interrupted(which, hindrance));
    }

    fn is_complete(&self, profile: &Profile, s: &Situation) -> bool {
        let over = |minutes: f64| self.runs_s + OVER_S >= minutes * S_PER_MIN;
        match s.regeneration {
            Regeneration::None => false,
            Regeneration::Active => over(profile.active.minutes),
            Regeneration::Parked => {
                let parked = &profile.parked;
                over(parked.minutes_max) || (over(parked.minutes_min) && s.soot_percent < parked.ends_at_percent)
            }
        }
    }

    fn complete(&mut self, profile: &Profile, s: &mut Situation, which: Regeneration, told: &mut Vec<Happening>) {
        s.regeneration = Regeneration::None;
        s.inhibits = 0;
        self.pause_s = 0.0;
        if which == Regeneration::Parked {
            s.hours_since_parked = 0.0;
        }
        self.power.restore(profile, s);
        told.push(Happening::Completed(which));
    }

    /// Seconds until a timer runs out, if nothing else changes. Infinite when none runs.
    #[must_use]
    pub fn next_change_s(&self, profile: &Profile, s: &Situation) -> f64 {
        let mut next = f64::INFINITY;
        let mut timer = |left_s: f64| {
            if left_s > OVER_S {
                next = next.min(left_s);
            }
        };
        if !s.engine_running {
            if s.engine_warm {
                timer(profile.engine.cold_after_s - self.off_s);
            }
            return next;
        }
        if !s.engine_warm {
            timer(profile.engine.warm_after_s - self.warming_s);
        }
        timer(self.pause_s);
        // One over, to be above the limit and not at it.
        timer((profile.parked.min_hours_between - s.hours_since_parked) * S_PER_H + 2.0 * OVER_S);
        match s.regeneration {
            Regeneration::None => {}
            Regeneration::Active => {
                timer(profile.active.minutes * S_PER_MIN - self.runs_s);
                if s.speed_rpm < profile.active.min_speed_rpm {
                    timer(profile.active.slow_for_s - self.slow_s);
                }
            }
            Regeneration::Parked => {
                timer(profile.parked.minutes_min * S_PER_MIN - self.runs_s);
                timer(profile.parked.minutes_max * S_PER_MIN - self.runs_s);
            }
        }
        next
    }

    /// Lets time go by, at most [`Self::next_change_s`]. Soot, ash and temperature are not its business.
    pub fn pass(&mut self, profile: &Profile, s: &mut Situation, seconds: f64) {
        if !s.engine_running {
            self.off_s += seconds;
            if self.off_s + OVER_S >= profile.engine.cold_after_s {
                (s.engine_warm, self.warming_s) = (false, 0.0);
            }
            return;
        }
        self.off_s = 0.0;
        s.hours_since_parked += seconds / S_PER_H;
        self.pause_s = (self.pause_s - seconds).max(0.0);
        if !s.engine_warm {
            self.warming_s += seconds;
            s.engine_warm = self.warming_s + OVER_S >= profile.engine.warm_after_s;
        }
        if s.regeneration != Regeneration::None {
            self.runs_s += seconds;
            let slow = s.speed_rpm < profile.active.min_speed_rpm;
            self.slow_s = if slow { self.slow_s + seconds } else { 0.0 };
        }
    }
}

/// Every soot load in percent at which the controller may change its mind, besides the profile's own edges.
#[must_use]
pub fn soot_marks(profile: &Profile) -> Vec<f64> {
    power::marks(profile).chain([profile.parked.ends_at_percent]).collect()
}

/// Whether the machine asks for the park brake before a parked regeneration.
fn park_brake_open(profile: &Profile, s: &Situation) -> bool {
    rules::open_interlocks(profile, s).any(|open| open == Interlock::ParkBrake)
}
