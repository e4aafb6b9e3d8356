//! The bench: one machine at steady work for some hours, from some soot load, to see where it leads.
//!
//! Takes the engine warm, the outlet settled at this work and the place open and safe. Never changes anything on the way.

use super::{Journey, Stretch};
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::Situation;
use crate::aftertreatment::thermal::steady_outlet_c;

/// What is set on the bench.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bench {
    /// Engine load in percent, 0 to 125.
    pub load_percent: f64,
    /// Engine speed in rpm, above 0.
    pub speed_rpm: f64,
    /// Hours of work, at least 0.
    pub hours: f64,
    /// Soot load in percent at the beginning, at least 0.
    pub soot_percent: f64,
    /// Ambient temperature in deg C.
    pub ambient_c: f64,
    /// Whether the inhibit switch is on all the time.
    pub inhibit_on: bool,
}

impl Bench {
    /// Makes the journey that is set.
    #[must_use]
    pub fn journey(&self, profile: &Profile) -> Journey {
        let Self { load_percent, speed_rpm, hours, soot_percent, ambient_c, inhibit_on } = *self;
        let outlet_c = steady_outlet_c(profile, load_percent, speed_rpm, ambient_c);
        let start = Situation { soot_percent, outlet_c, load_percent, speed_rpm, inhibit_on, ..Situation::default() };
        let stretch = Stretch { ambient_c, ..Stretch::work(profile, hours * 60.0, load_percent, speed_rpm) };
        Journey::make(profile, &start, &[stretch])
    }
}
