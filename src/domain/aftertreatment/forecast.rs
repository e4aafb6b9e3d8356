//! Where a duty that is worked over and over takes the soot: when it reaches each band, and where it settles.
//!
//! By work alone: no active and no parked regeneration runs, and the engine keeps its full power. One round of the duty does
//! one affine thing to any soot load, so ten thousand rounds cost no more than one. The outlet temperature is taken to repeat
//! from round to round already. Never judges; its limits are those of [`super::kinetics`] and [`super::thermal`].

mod round;

use super::journey::Stretch;
use super::kinetics::{self, MEASURED_FROM_C, MEASURED_TO_C};
use super::profile::Profile;
use round::Round;

/// Beyond this many hours a forecast says "never": no duty stays the same for so long. Chosen by us.
pub const LONGEST_H: f64 = 100_000.0;

/// When the soot load comes to a level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arrival {
    /// The level in percent.
    pub percent: f64,
    /// Hours of this duty until then; `None` when it never does.
    pub hours: Option<f64>,
}

/// What a duty leads to.
#[derive(Clone, Debug, PartialEq)]
pub struct Forecast {
    /// Soot load in percent at the beginning.
    pub from_percent: f64,
    /// Length of one round of the duty in hours.
    pub round_h: f64,
    /// For each band but the present one, its place in the profile's list, and when it is entered: from below at its lower
    /// end, from above at its upper end.
    pub bands: Vec<(usize, Arrival)>,
    /// When an active regeneration becomes due.
    pub active: Arrival,
    /// Lowest and highest soot load in percent of a round once the soot has settled; infinite when nothing burns and soot comes.
    pub settles_percent: (f64, f64),
    /// Whether work alone keeps the soot below the level where active cleaning begins.
    pub keeps_clean: bool,
    /// Mean soot flow in mg/s while the engine runs.
    pub flow_mg_per_s: f64,
    /// Lowest and highest outlet temperature of a round while the engine runs, in deg C.
    pub outlet_c: (f64, f64),
    /// Outlet temperature in deg C from which passive cleaning keeps up with that flow at the level where active cleaning
    /// begins; `None` when no temperature below an active regeneration's does.
    pub keeps_up_from_c: Option<f64>,
}

impl Forecast {
    /// Looks ahead from a soot load in percent (at least 0) along a duty that is repeated. Of the operator's actions only the
    /// key counts. `None` when the duty takes no time.
    #[must_use]
    pub fn make(profile: &Profile, from_percent: f64, duty: &[Stretch]) -> Option<Self> {
        let round = Round::of(profile, duty)?;
        let arrival = |percent: f64| Arrival { percent, hours: round.hours_to(from_percent, percent) };
        let present = profile.band_place(from_percent);
        let bands =
            profile.bands.iter().enumerate().filter(|(place, _)| *place != present).map(|(place, band)| {
                (place, arrival(if place > present { band.from_percent } else { band.to_percent }))
            });
        let settles_percent = round.settles(from_percent);
        let flow_mg_per_s = round.mean_flow_mg_per_s(profile);
        Some(Self {
            from_percent,
            round_h: round.seconds() / 3600.0,
            bands: bands.collect(),
            active: arrival(profile.active.from_percent),
            settles_percent,
            keeps_clean: settles_percent.1 < profile.active.from_percent,
            flow_mg_per_s,
            outlet_c: round.outlet_c(),
            keeps_up_from_c: keeps_up_from_c(profile, flow_mg_per_s, profile.active.from_percent),
        })
    }

    /// Whether the forecast rests on burning outside the measured range of temperatures.
    #[must_use]
    pub fn extrapolated(&self) -> bool {
        self.outlet_c.0 < MEASURED_FROM_C || self.outlet_c.1 > MEASURED_TO_C
    }
}

/// Outlet temperature in deg C from which as much soot burns as comes, for a soot flow in mg/s at a soot load in percent.
/// `None` when no temperature below an active regeneration's is enough.
#[must_use]
pub fn keeps_up_from_c(profile: &Profile, flow_mg_per_s: f64, at_percent: f64) -> Option<f64> {
    const COLDEST_C: f64 = 0.0;
    const STEP_K: f64 = 5.0;
    let soot_g = profile.filter.full_load_g() * at_percent / 100.0;
    let surplus = |temp_c: f64| {
        let no2_ppm = profile.no2_ppm.at(temp_c).value;
        kinetics::rate_per_s(profile.filter.coating, temp_c, no2_ppm) * soot_g * 1000.0 - flow_mg_per_s
    };
    // More heat does not always burn more: NO2 can fall faster than the rate rises. The lowest crossing counts.
    let mut low_c = COLDEST_C;
    while low_c < profile.active.temperature_c {
        let high_c = (low_c + STEP_K).min(profile.active.temperature_c);
        if surplus(high_c) >= 0.0 {
            return Some(super::crossing::root((low_c, surplus(low_c)), (high_c, surplus(high_c)), surplus));
        }
        low_c = high_c;
    }
    None
}
