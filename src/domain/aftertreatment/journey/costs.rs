//! What a journey costs: time, extra fuel, and what became of the soot.

use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::Regeneration;
use serde::{Deserialize, Serialize};

/// What a journey cost. Fuel is the extra fuel of regenerations alone, in proportion to how long they ran; the fuel of the work
/// itself is not known here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Costs {
    /// Length in minutes.
    pub minutes: f64,
    /// Minutes in which the engine ran.
    pub engine_minutes: f64,
    /// Minutes in which an active regeneration ran.
    pub active_minutes: f64,
    /// Minutes in which a parked regeneration ran and the machine could not work.
    pub parked_minutes: f64,
    /// Extra fuel in litres.
    pub fuel_l: f64,
    /// Soot in g at the beginning.
    pub soot_start_g: f64,
    /// Soot in g that came.
    pub soot_in_g: f64,
    /// Soot in g that work burnt.
    pub burnt_passive_g: f64,
    /// Soot in g that burnt in active regenerations.
    pub burnt_active_g: f64,
    /// Soot in g that burnt in parked regenerations.
    pub burnt_parked_g: f64,
    /// Soot in g at the end.
    pub soot_left_g: f64,
}

impl Costs {
    /// Soot in g that burnt, all ways together.
    #[must_use]
    pub fn burnt_g(&self) -> f64 {
        self.burnt_passive_g + self.burnt_active_g + self.burnt_parked_g
    }

    /// Notes a stretch of time and the soot (g) that came and burnt in it.
    pub(super) fn note(
        &mut self,
        running: Regeneration,
        engine_runs: bool,
        seconds: f64,
        (came_g, burnt_g): (f64, f64),
    ) {
        let minutes = seconds / 60.0;
        self.minutes += minutes;
        self.engine_minutes += if engine_runs { minutes } else { 0.0 };
        self.soot_in_g += came_g;
        match running {
            Regeneration::None => self.burnt_passive_g += burnt_g,
            Regeneration::Active => {
                self.active_minutes += minutes;
                self.burnt_active_g += burnt_g;
            }
            Regeneration::Parked => {
                self.parked_minutes += minutes;
                self.burnt_parked_g += burnt_g;
            }
        }
    }

    /// The fuel of the minutes noted. A parked regeneration's fuel is stated for one of usual length, taken to be half way
    /// between its shortest and its longest.
    pub(super) fn fuel(&mut self, profile: &Profile) {
        let (active, parked) = (&profile.active, &profile.parked);
        let usual_parked = (parked.minutes_min + parked.minutes_max) / 2.0;
        self.fuel_l =
            active.fuel_l * self.active_minutes / active.minutes + parked.fuel_l * self.parked_minutes / usual_parked;
    }
}
