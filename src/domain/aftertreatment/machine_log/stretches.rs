//! A log as a journey: stretches of work with the engine load and speed that were said, averaged over time.
//!
//! Never fills a gap: where load or speed is not said, or nothing is said for long, no stretch is.

use super::events::SILENCE_S;
use super::parameter::place;
use super::readout::seconds;
use super::{MachineLog, Reading};
use serde::Serialize;

/// A stretch of work.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Stretch {
    /// When it begins, in seconds since the log's first reading.
    pub from_s: f64,
    /// How long it lasts, in seconds.
    pub seconds: f64,
    /// Mean engine load in percent.
    pub load_percent: f64,
    /// Mean engine speed in rpm.
    pub speed_rpm: f64,
}

impl Stretch {
    /// This stretch and the next one as one.
    fn and(self, next: Self) -> Self {
        let whole = self.seconds + next.seconds;
        let mean = |a: f64, b: f64| (a * self.seconds + b * next.seconds) / whole;
        Self {
            from_s: self.from_s,
            seconds: whole,
            load_percent: mean(self.load_percent, next.load_percent),
            speed_rpm: mean(self.speed_rpm, next.speed_rpm),
        }
    }
}

impl MachineLog {
    /// The journey that the log is of, in stretches that end once they have lasted so many seconds (above 0). A log without
    /// times is none. What is said holds until something else is said.
    #[must_use]
    pub fn stretches(&self, lasting_s: f64) -> Vec<Stretch> {
        let mut stretches: Vec<Stretch> = Vec::new();
        for pair in self.readings.windows(2) {
            let Some(piece) = self.between(&pair[0], &pair[1]) else { continue };
            let open = stretches.last_mut().filter(|last| {
                let follows = (last.from_s + last.seconds - piece.from_s).abs() < 1.0e-6;
                follows && last.seconds < lasting_s
            });
            match open {
                Some(last) => *last = last.and(piece),
                None => stretches.push(piece),
            }
        }
        stretches
    }

    fn between(&self, now: &Reading, next: &Reading) -> Option<Stretch> {
        let lasts = seconds(next.at_us? - now.at_us?);
        let known = lasts > 0.0 && lasts < SILENCE_S;
        known.then_some(Stretch {
            from_s: self.since_start(now.at_us)?,
            seconds: lasts,
            load_percent: now.readout.at(place::LOAD)?,
            speed_rpm: now.readout.at(place::SPEED)?,
        })
    }
}
