//! The course of a shift as a question shows it: soot load and outlet temperature up to the moment that is asked about.
//!
//! Holds numbers as gauges show them and nothing of what comes after. Never says what they mean: that would answer the question.

use super::shift::Shift;
use crate::units::{Quantity, TemperatureUnit, Unit};
use serde::{Deserialize, Serialize};

/// Most steps from the first point to the last; chosen by us: a regeneration of a quarter of an hour still shows in a shift of
/// eight hours.
const MOST_STEPS: u32 = 48;
/// Lengths of a step in seconds, so that the points fall on round times.
const STEPS_S: [u32; 12] = [15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400, 28_800];
/// Stretches between the points that are told in words; chosen by us: what a reader can keep in mind.
const TOLD: usize = 6;

/// Soot load and outlet temperature along a shift, frozen with the question.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Course {
    /// The scale of its temperatures.
    pub temperature_unit: TemperatureUnit,
    /// Its points in time order; the last is the moment that is asked about.
    pub points: Vec<CoursePoint>,
}

/// One point of a course.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CoursePoint {
    /// Seconds since the shift began.
    pub seconds: u32,
    /// Soot load in whole percent.
    pub soot_percent: f64,
    /// Outlet temperature in whole degrees of the course's scale.
    pub outlet: f64,
}

impl Course {
    /// The course of a shift, in the reader's scale.
    pub(super) fn of(shift: &Shift, temperature_unit: TemperatureUnit) -> Self {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a shift has at most 16 days")]
        let length = shift.seconds().round() as u32;
        let step = STEPS_S.into_iter().find(|step| length <= step * MOST_STEPS).unwrap_or(length);
        let before = (0..length).step_by(step as usize);
        let points = before.chain([length]).map(|seconds| {
            // The last point is the moment itself: what is read there is what is judged.
            let situation = if seconds == length { shift.end() } else { shift.situation_at(f64::from(seconds)) };
            let outlet = Quantity::new(situation.outlet_c.round(), Unit::Celsius).for_reader(temperature_unit);
            CoursePoint { seconds, soot_percent: situation.soot_percent.round(), outlet: outlet.value.round() }
        });
        Self { temperature_unit, points: points.collect() }
    }

    /// The unit of its temperatures.
    #[must_use]
    pub fn outlet_unit(&self) -> Unit {
        Quantity::new(0.0, Unit::Celsius).for_reader(self.temperature_unit).unit
    }

    /// A few of its points in words: "0 min: 78 %, 240 °C; 5 min: 79 %, 410 °C".
    #[must_use]
    pub fn words(&self) -> String {
        let last = self.points.len().saturating_sub(1);
        let every = last.div_ceil(TOLD).max(1);
        let told = self.points.iter().enumerate().filter(|(place, _)| place % every == 0 || *place == last);
        let words = told.map(|(_, point)| {
            let minutes = Quantity::new((f64::from(point.seconds) / 6.0).round() / 10.0, Unit::Minute);
            let soot = Quantity::new(point.soot_percent, Unit::Percent);
            format!("{minutes}: {soot}, {}", Quantity::new(point.outlet, self.outlet_unit()))
        });
        words.collect::<Vec<_>>().join("; ")
    }
}
