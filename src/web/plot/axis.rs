//! An axis of a plot: what is measured, in which unit, from where to where, and where its numbers stand.
//!
//! Never shows a number without its unit.

use crate::domain::units::plain_number;
use serde::{Deserialize, Serialize};

/// An axis of a plot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Axis {
    /// What is measured.
    pub label: String,
    /// Its unit, empty for none.
    pub unit: String,
    /// Number at the axis' beginning, in the unit.
    pub from: f64,
    /// Number at the axis' end, above `from`.
    pub to: f64,
    /// Distance of the numbered ticks, above 0.
    pub step: f64,
}

impl Axis {
    /// An axis with round ticks (1, 2 or 5 times a power of ten, at most eight steps) that covers `from` to `to`, and no more than it must.
    #[must_use]
    pub fn covering(label: &str, unit: &str, from: f64, to: f64) -> Self {
        let length = if to > from { to - from } else { 1.0 };
        let power = 10_f64.powf((length / 8.0).log10().floor());
        let rounds = |step: f64| (to / step).ceil() - (from / step).floor() <= 8.0;
        let step =
            [1.0, 2.0, 5.0, 10.0].map(|n| n * power).into_iter().find(|step| rounds(*step)).unwrap_or(20.0 * power);
        let (from, to) = ((from / step).floor() * step, ((from + length) / step).ceil() * step);
        Self { label: label.to_owned(), unit: unit.to_owned(), from, to, step }
    }

    /// The numbered ticks; at most 24, whatever the step.
    pub(super) fn ticks(&self) -> Vec<f64> {
        let step = self.step.max((self.to - self.from) / 23.0);
        if !(step > 0.0 && step.is_finite()) {
            return vec![self.from];
        }
        let count = ((self.to - self.from) / step + 1e-9).floor() as u32;
        (0..=count).map(|n| self.from + f64::from(n) * step).collect()
    }

    /// How far along the axis a number stands, from 0 to 1.
    pub(super) fn share(&self, value: f64) -> f64 {
        let length = self.to - self.from;
        if length > 0.0 { ((value - self.from) / length).clamp(0.0, 1.0) } else { 0.0 }
    }

    /// A number with the axis' unit.
    pub(super) fn quantity(&self, value: f64) -> String {
        format!("{} {}", plain_number(value), self.unit).trim_end().to_owned()
    }

    /// What is measured, with its unit: "Soot load, %".
    pub(super) fn caption(&self) -> String {
        if self.unit.is_empty() { self.label.clone() } else { format!("{}, {}", self.label, self.unit) }
    }
}
