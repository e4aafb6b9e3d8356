//! How much soot comes, how much burns: the mass balance of the filter under constant conditions, in closed form.
//!
//! `dm/dt = S - (k_NO2 + k_O2) m` with soot mass m, engine-out soot flow S and two first-order burning rates that depend
//! on the filter's temperature and, for the first, on NO2. One lumped mass at one temperature.
//!
//! Never judges and never decides: it says what burns, not what to do. Its limits, to be said wherever its numbers are
//! shown: measured between 250 and 600 deg C and extrapolated outside; no dependence on oxygen; soot does not heat
//! itself here, so it says nothing about how hot an uncontrolled burn gets. These are training values; the operator's
//! manual of the real machine decides.

#[cfg(test)]
mod tests;

use super::profile::{Coating, Profile};
use super::situation::Situation;

/// Molar gas constant in J/(mol K). Source: CODATA 2018 (exact in the SI).
pub const GAS_CONSTANT: f64 = 8.314_462_618;

/// Catalysed filter, NO2 path: factor in 1/s. Derived: refit of the eight measured points of Bai et al. 2016,
/// Appl. Therm. Eng. 100:1292, tables 5 and 7 (the paper's own value is 4200).
pub const NO2_FACTOR_PER_S: f64 = 3400.0;
/// Catalysed filter, NO2 path: activation energy in J/mol. Source: Bai et al. 2016, table 4.
pub const NO2_ENERGY_J_PER_MOL: f64 = 45_500.0;
/// Catalysed filter, NO2 path: order in the NO2 mole fraction. Source: Bai et al. 2016, table 4.
pub const NO2_ORDER: f64 = 1.13;

/// Catalysed filter, O2 path: factor in 1/s. Derived: the same refit as [`NO2_FACTOR_PER_S`].
pub const O2_FACTOR_PER_S: f64 = 14_300.0;
/// Catalysed filter, O2 path: activation energy in J/mol. Source: Bai et al. 2016, table 6, where 408 000 is printed.
/// That would burn nothing at 600 deg C (6e-21 1/s); 108 000 gives the paper's own errors, so we read it as a misprint.
pub const O2_ENERGY_J_PER_MOL: f64 = 108_000.0;

/// Bare filter, O2 path at 10 % O2: factor in 1/s.
/// Derived from Konstandopoulos and Papaioannou, KONA Powder and Particle Journal 26 (2008).
pub const BARE_O2_FACTOR_PER_S: f64 = 4.71e7;
/// Bare filter, O2 path: activation temperature in K. Source as for [`BARE_O2_FACTOR_PER_S`].
pub const BARE_O2_TEMPERATURE_K: f64 = 21_500.0;

/// Below this temperature in deg C no measured point supports the rates. Source: Bai et al. 2016, table 5.
pub const MEASURED_FROM_C: f64 = 250.0;
/// Above this temperature in deg C no measured point supports the rates. Source: Bai et al. 2016, table 7.
pub const MEASURED_TO_C: f64 = 600.0;

const ZERO_CELSIUS_K: f64 = 273.15;
const G_PER_MG: f64 = 1.0e-3;
const S_PER_H: f64 = 3600.0;

/// Share of the soot that NO2 burns each second (1/s) at a filter temperature in deg C and NO2 in ppm (at least 0).
/// A bare filter burns none this way. Sources: [`NO2_FACTOR_PER_S`] and the constants after it.
#[must_use]
pub fn rate_no2_per_s(coating: Coating, temp_c: f64, no2_ppm: f64) -> f64 {
    match coating {
        Coating::Bare => 0.0,
        Coating::Catalysed => {
            let fraction = no2_ppm.max(0.0) * 1.0e-6;
            NO2_FACTOR_PER_S * arrhenius(NO2_ENERGY_J_PER_MOL / GAS_CONSTANT, temp_c) * libm::pow(fraction, NO2_ORDER)
        }
    }
}

/// Share of the soot that oxygen burns each second (1/s) at a filter temperature in deg C.
/// Sources: [`O2_FACTOR_PER_S`], [`BARE_O2_FACTOR_PER_S`] and the constants after them.
#[must_use]
pub fn rate_o2_per_s(coating: Coating, temp_c: f64) -> f64 {
    match coating {
        Coating::Catalysed => O2_FACTOR_PER_S * arrhenius(O2_ENERGY_J_PER_MOL / GAS_CONSTANT, temp_c),
        Coating::Bare => BARE_O2_FACTOR_PER_S * arrhenius(BARE_O2_TEMPERATURE_K, temp_c),
    }
}

/// Share of the soot that burns each second (1/s), both ways together.
#[must_use]
pub fn rate_per_s(coating: Coating, temp_c: f64, no2_ppm: f64) -> f64 {
    rate_no2_per_s(coating, temp_c, no2_ppm) + rate_o2_per_s(coating, temp_c)
}

/// Soot mass in g at which as much burns as comes, for a soot flow in mg/s and a rate in 1/s (both at least 0).
/// Infinite when nothing burns; 0 when nothing comes.
#[must_use]
pub fn balance_g(flow_mg_per_s: f64, rate_per_s: f64) -> f64 {
    if flow_mg_per_s <= 0.0 { 0.0 } else { flow_mg_per_s * G_PER_MG / rate_per_s }
}

/// Soot mass in g after some seconds (at least 0) under constant conditions, from `start_g` (at least 0).
///
/// The closed form `m0 e^(-kt) + S (1 - e^(-kt)) / k`, exact to rounding also where k vanishes. Never below 0.
#[must_use]
pub fn after(start_g: f64, flow_mg_per_s: f64, rate_per_s: f64, seconds: f64) -> f64 {
    let exponent = rate_per_s * seconds;
    // (1 - e^-x) / x, which goes to 1 with x.
    let kept = if exponent > 0.0 { -libm::expm1(-exponent) / exponent } else { 1.0 };
    start_g * libm::exp(-exponent) + flow_mg_per_s * G_PER_MG * seconds * kept
}

/// Seconds until the soot mass is `target_g`, from `start_g`, under constant conditions; `None` when it never is.
///
/// The inverse of [`after`]. The balance itself is approached and never reached.
#[must_use]
pub fn seconds_to_reach(start_g: f64, target_g: f64, flow_mg_per_s: f64, rate_per_s: f64) -> Option<f64> {
    if start_g == target_g {
        return Some(0.0);
    }
    let change_g = target_g - start_g;
    // What the mass changes each second once it is at the target; 0 or turned back means that it never gets there.
    let pace_at_target = flow_mg_per_s * G_PER_MG - rate_per_s * target_g;
    if pace_at_target == 0.0 || (change_g > 0.0) != (pace_at_target > 0.0) {
        return None;
    }
    let linear = change_g / pace_at_target;
    let seconds = if rate_per_s > 0.0 { libm::log1p(rate_per_s * linear) / rate_per_s } else { linear };
    seconds.is_finite().then_some(seconds)
}

/// What the soot in the filter lives under while nothing changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conditions {
    /// Filter outlet temperature in deg C; taken for the temperature of the whole filter.
    pub outlet_c: f64,
    /// NO2 at the filter in ppm.
    pub no2_ppm: f64,
    /// Engine-out soot in mg/s.
    pub flow_mg_per_s: f64,
}

impl Conditions {
    /// Steady work at an engine load (percent) and speed (rpm), when the temperature has settled.
    #[must_use]
    pub fn at_duty(profile: &Profile, load_percent: f64, speed_rpm: f64) -> Self {
        Self::at_outlet(profile, load_percent, speed_rpm, profile.outlet_c.at(load_percent, speed_rpm).value)
    }

    /// Work at an engine load (percent) and speed (rpm) while the outlet is at a temperature in deg C that was read or
    /// is being held.
    #[must_use]
    pub fn at_outlet(profile: &Profile, load_percent: f64, speed_rpm: f64, outlet_c: f64) -> Self {
        Self {
            outlet_c,
            no2_ppm: profile.no2_ppm.at(outlet_c).value,
            flow_mg_per_s: profile.soot_mg_per_s.at(load_percent, speed_rpm).value,
        }
    }

    /// The present readings of a situation. An engine that stands still makes no soot.
    #[must_use]
    pub fn of(profile: &Profile, situation: &Situation) -> Self {
        let read = Self::at_outlet(profile, situation.load_percent, situation.speed_rpm, situation.outlet_c);
        if situation.engine_running { read } else { Self { flow_mg_per_s: 0.0, ..read } }
    }

    /// Whether these conditions lie outside the measured range of the catalysed filter, so that the rates are extrapolated.
    /// For a bare filter the source gives a law and no range; the same range is taken.
    #[must_use]
    pub fn extrapolated(&self) -> bool {
        !(MEASURED_FROM_C..=MEASURED_TO_C).contains(&self.outlet_c)
    }

    /// Soot load in percent that these conditions lead to in the end. Infinite when soot comes and nothing burns.
    #[must_use]
    pub fn balance_percent(&self, profile: &Profile) -> f64 {
        percent(profile, balance_g(self.flow_mg_per_s, self.rate_per_s(profile.filter.coating)))
    }

    /// Share of the soot that burns each second (1/s).
    #[must_use]
    pub fn rate_per_s(&self, coating: Coating) -> f64 {
        rate_per_s(coating, self.outlet_c, self.no2_ppm)
    }
}

/// Soot load in percent after some hours (at least 0) under constant conditions, from a soot load in percent.
#[must_use]
pub fn soot_percent_after(profile: &Profile, conditions: &Conditions, from_percent: f64, hours: f64) -> f64 {
    let rate = conditions.rate_per_s(profile.filter.coating);
    let start_g = grams(profile, from_percent);
    percent(profile, after(start_g, conditions.flow_mg_per_s, rate, hours * S_PER_H))
}

/// Hours until the soot load in percent goes from one value to another under constant conditions; `None` when it never
/// gets there.
#[must_use]
pub fn hours_to_percent(profile: &Profile, conditions: &Conditions, from_percent: f64, to_percent: f64) -> Option<f64> {
    let rate = conditions.rate_per_s(profile.filter.coating);
    let (start_g, target_g) = (grams(profile, from_percent), grams(profile, to_percent));
    seconds_to_reach(start_g, target_g, conditions.flow_mg_per_s, rate).map(|seconds| seconds / S_PER_H)
}

/// Soot load in percent that work under the present readings of a situation leads to in the end. Infinite when soot
/// comes and nothing burns.
#[must_use]
pub fn balance_percent(profile: &Profile, situation: &Situation) -> f64 {
    Conditions::of(profile, situation).balance_percent(profile)
}

/// Whether the soot load still rises under the present readings of a situation.
#[must_use]
pub fn net_rising(profile: &Profile, situation: &Situation) -> bool {
    let conditions = Conditions::of(profile, situation);
    let burnt_g_per_s = conditions.rate_per_s(profile.filter.coating) * grams(profile, situation.soot_percent);
    conditions.flow_mg_per_s * G_PER_MG > burnt_g_per_s
}

/// Share in percent of the soot present that burns in one hour at an outlet temperature in deg C, with none coming.
#[must_use]
pub fn burnt_percent_in_one_hour(profile: &Profile, outlet_c: f64) -> f64 {
    let rate = rate_per_s(profile.filter.coating, outlet_c, profile.no2_ppm.at(outlet_c).value);
    -libm::expm1(-rate * S_PER_H) * 100.0
}

/// Activation temperature in K of the path that rises most steeply with temperature.
pub(super) fn steepest_activation_k(coating: Coating) -> f64 {
    match coating {
        Coating::Catalysed => O2_ENERGY_J_PER_MOL / GAS_CONSTANT,
        Coating::Bare => BARE_O2_TEMPERATURE_K,
    }
}

fn arrhenius(activation_k: f64, temp_c: f64) -> f64 {
    // At and below absolute zero nothing burns; the clamp keeps the division away from 0.
    libm::exp(-activation_k / (temp_c + ZERO_CELSIUS_K).max(1.0))
}

fn grams(profile: &Profile, percent: f64) -> f64 {
    profile.filter.full_load_g() * percent / 100.0
}

fn percent(profile: &Profile, grams: f64) -> f64 {
    grams / profile.filter.full_load_g() * 100.0
}
