//! Carbon monoxide in a closed space: one well-mixed box, for showing how fast it fills.
//!
//! Never says that a place is safe: who runs an engine indoors needs extraction, a measuring device and somebody who may
//! decide. Its inputs are the asker's assumptions and stand beside its answer; no emission is built in.

use super::super::kinetics::GAS_CONSTANT;

/// Molar mass of carbon monoxide in g/mol. Source: IUPAC standard atomic weights, C 12.011 and O 15.999.
const CO_G_PER_MOL: f64 = 28.010;
/// Room air in K and Pa; chosen by us: 25 deg C and one standard atmosphere, to which exposure limits refer (from memory,
/// not confirmed).
const AIR_K: f64 = 298.15;
const AIR_PA: f64 = 101_325.0;

/// A closed space with an engine running in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClosedSpace {
    /// Air in the space in m3, above 0.
    pub volume_m3: f64,
    /// How many times an hour that air is replaced by clean air, at least 0.
    pub air_changes_per_h: f64,
    /// Carbon monoxide that the engine is assumed to give off, in g/h, at least 0.
    pub emission_g_per_h: f64,
}

impl ClosedSpace {
    /// Carbon monoxide in ppm some hours (at least 0) after the engine was started in clean air.
    /// Derived from the balance of a well-mixed box, `dc/dt = E / V - n c`.
    #[must_use]
    pub fn ppm_after(&self, hours: f64) -> f64 {
        let changed = self.air_changes_per_h * hours;
        // (1 - e^-x) / x, which goes to 1 with x.
        let kept = if changed > 0.0 { -libm::expm1(-changed) / changed } else { 1.0 };
        ppm(self.emission_g_per_h / self.volume_m3 * hours * kept)
    }

    /// Carbon monoxide in ppm that it would settle at; infinite when no air is changed.
    #[must_use]
    pub fn settles_at_ppm(&self) -> f64 {
        if self.emission_g_per_h <= 0.0 {
            0.0
        } else {
            ppm(self.emission_g_per_h / self.volume_m3 / self.air_changes_per_h)
        }
    }

    /// Hours until the air holds so many ppm (at least 0); `None` when it never does.
    #[must_use]
    pub fn hours_to_ppm(&self, wanted: f64) -> Option<f64> {
        if wanted <= 0.0 {
            return Some(0.0);
        }
        let share = wanted / self.settles_at_ppm();
        let without_change = wanted / ppm(self.emission_g_per_h / self.volume_m3);
        let hours = if share > 0.0 { -libm::log1p(-share) / self.air_changes_per_h } else { without_change };
        (share < 1.0 && hours.is_finite()).then_some(hours)
    }
}

/// ppm by volume of so many g/m3 of carbon monoxide.
fn ppm(g_per_m3: f64) -> f64 {
    let mol_of_air_per_m3 = AIR_PA / (GAS_CONSTANT * AIR_K);
    g_per_m3 / CO_G_PER_MOL / mol_of_air_per_m3 * 1.0e6
}
