//! Everything that a machine has said up to one moment, and how a number went over a log.
//!
//! Never keeps a value after the machine has said that it does not have it any more.

use super::parameter::{NUMBER_PLACES, NUMBERS, PARK_BRAKE, Said, number_place};
use super::{MachineLog, Reading};
use crate::aftertreatment::signals::{FilterMessage, Triple};
use serde::Serialize;

/// Everything that is known at one moment.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readout {
    /// The numbers, in the order of [`NUMBER_PLACES`], in the unit of their word.
    numbers: [Option<f64>; NUMBERS],
    /// Lamps, status and reasons.
    pub filter: FilterMessage,
    /// The park brake's own switch.
    pub park_brake: Triple,
}

impl Readout {
    /// A number by its number in the standard (SPN), in the unit of its word; `None` when the machine does not say it.
    #[must_use]
    pub fn number(&self, spn: u32) -> Option<f64> {
        number_place(spn).and_then(|place| self.numbers[place])
    }

    pub(super) const fn at(&self, place: usize) -> Option<f64> {
        self.numbers[place]
    }

    /// Takes over what was said.
    ///
    /// # Errors
    /// The raw value, when it has no meaning: the parameter then counts as not available.
    pub(super) fn take(&mut self, spn: u32, said: Said) -> Result<(), u32> {
        if let Some(place) = number_place(spn) {
            self.numbers[place] = if let Said::Number(number) = said { Some(number) } else { None };
        } else {
            // A raw value that no state has: nothing is said.
            let raw = if let Said::State(raw) = said { raw } else { u8::MAX };
            if spn == PARK_BRAKE {
                self.park_brake = Triple::from_raw(raw).unwrap_or_default();
            } else {
                // What it says was looked at when the line was read.
                let _ = self.filter.set(spn, raw);
            }
        }
        if let Said::Unknown(raw) = said { Err(raw) } else { Ok(()) }
    }
}

/// How a number went over a log.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Span {
    /// The first that was said.
    pub first: f64,
    /// The last.
    pub last: f64,
    /// The smallest.
    pub least: f64,
    /// The largest.
    pub most: f64,
}

impl MachineLog {
    /// How each number went that was said at all.
    #[must_use]
    pub fn spans(&self) -> Vec<(&'static str, Span)> {
        let span = |place: usize| {
            let mut numbers = self.readings.iter().filter_map(|Reading { readout, .. }| readout.numbers[place]);
            let first = numbers.next()?;
            let start = Span { first, last: first, least: first, most: first };
            Some(numbers.fold(start, |span, number| Span {
                last: number,
                least: span.least.min(number),
                most: span.most.max(number),
                ..span
            }))
        };
        NUMBER_PLACES.iter().enumerate().filter_map(|(place, named)| Some((named.word, span(place)?))).collect()
    }

    /// Seconds from the first reading to the last; `None` in a log without times.
    #[must_use]
    pub fn seconds(&self) -> Option<f64> {
        let (first, last) = (self.readings.first()?.at_us?, self.readings.last()?.at_us?);
        Some(seconds(last - first))
    }

    /// Seconds of a time of this log since its first reading; `None` in a log without times.
    #[must_use]
    pub fn since_start(&self, at_us: Option<i64>) -> Option<f64> {
        Some(seconds(at_us? - self.readings.first()?.at_us?))
    }
}

#[expect(clippy::cast_precision_loss, reason = "times of a log lie below 2^53 microseconds or need no better")]
pub(super) fn seconds(micros: i64) -> f64 {
    micros as f64 / 1.0e6
}
