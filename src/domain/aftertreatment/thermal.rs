//! How the filter outlet's temperature moves: towards a steady value, exponentially, with a time constant.
//!
//! One lumped temperature for gas, filter and outlet. Never says what burns. Its limits: the soot that burns adds no heat
//! of its own, wind and rain do nothing, and a time constant is the same upwards and downwards.

use super::profile::Profile;

/// Below this distance in K from the steady value the temperature counts as settled. Chosen by us: burning rates then
/// differ by less than one part in ten million.
const SETTLED_K: f64 = 1.0e-7;

/// Steady outlet temperature in deg C at an engine load (percent), a speed (rpm) and an ambient temperature (deg C).
///
/// The profile's map holds for its reference ambient temperature; elsewhere the whole value is shifted by the difference,
/// because the engine adds about the same heat to air that enters colder or warmer. Chosen by us; no published source.
#[must_use]
pub fn steady_outlet_c(profile: &Profile, load_percent: f64, speed_rpm: f64, ambient_c: f64) -> f64 {
    profile.outlet_c.at(load_percent, speed_rpm).value + ambient_c - profile.thermal.reference_ambient_c
}

/// A temperature on its way: `T(t) = target + (from - target) e^(-t / time_constant)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Approach {
    /// Temperature at the beginning, in deg C.
    pub from_c: f64,
    /// Temperature that is approached and never reached, in deg C.
    pub target_c: f64,
    /// Time constant in s, above 0.
    pub time_constant_s: f64,
}

impl Approach {
    /// Temperature in deg C after some seconds (at least 0).
    #[must_use]
    pub fn at(&self, seconds: f64) -> f64 {
        self.target_c + self.distance_k(seconds)
    }

    /// How far the temperature still is from the target after some seconds, in K; negative below it.
    #[must_use]
    pub fn distance_k(&self, seconds: f64) -> f64 {
        (self.from_c - self.target_c) * libm::exp(-seconds / self.time_constant_s)
    }

    /// Seconds until the temperature is `temp_c`; `None` when it never is.
    #[must_use]
    pub fn seconds_to(&self, temp_c: f64) -> Option<f64> {
        if temp_c == self.from_c {
            return Some(0.0);
        }
        let left = (temp_c - self.target_c) / (self.from_c - self.target_c);
        (left > 0.0 && left <= 1.0).then(|| -self.time_constant_s * libm::log(left))
    }

    /// Whether the temperature no longer moves in any way that matters after some seconds.
    #[must_use]
    pub fn settled(&self, seconds: f64) -> bool {
        self.distance_k(seconds).abs() < SETTLED_K
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const UP: Approach = Approach { from_c: 100.0, target_c: 300.0, time_constant_s: 60.0 };

    #[test]
    fn one_time_constant_is_63_percent_of_the_way_and_three_are_95() {
        // Source: the first-order step response of any textbook on control: 1 - 1/e = 0.632 and 1 - 1/e^3 = 0.950.
        assert!(((UP.at(60.0) - 100.0) / 200.0 - 0.632).abs() < 5e-4);
        assert!(((UP.at(180.0) - 100.0) / 200.0 - 0.950).abs() < 5e-4);
    }

    #[test]
    fn the_way_there_is_the_inverse_of_the_time_to_get_there() {
        for temp_c in [100.0, 100.001, 200.0, 299.999] {
            assert!((UP.at(UP.seconds_to(temp_c).unwrap()) - temp_c).abs() < 1e-9);
        }
        assert_eq!(UP.seconds_to(300.0), None, "the target itself is never reached");
        assert_eq!(UP.seconds_to(99.0), None, "and nothing behind");
        assert!(UP.settled(60.0 * 22.0) && !UP.settled(60.0 * 20.0));
    }
}
