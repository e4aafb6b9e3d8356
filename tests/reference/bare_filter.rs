//! Source: Konstandopoulos and Papaioannou, KONA Powder and Particle Journal 26 (2008): uncatalysed soot burning at 10 % O2,
//! as derived from it: k = 4.71e7 exp(-21 500 K / T) 1/s.

use super::close;
use sootmark::domain::aftertreatment::kinetics::{rate_no2_per_s, rate_o2_per_s};
use sootmark::domain::aftertreatment::profile::Coating;

#[test]
fn the_rate_follows_the_derived_law() {
    // Derived by hand at 600 deg C: 21 500 / 873.15 = 24.6235, exp(-24.6235) = 2.0238e-11, times 4.71e7 = 9.532e-4 1/s.
    close(rate_o2_per_s(Coating::Bare, 600.0), 9.532e-4, 3e-4);
    assert_eq!(rate_no2_per_s(Coating::Bare, 350.0, 500.0), 0.0, "without a coating NO2 is taken to burn nothing");
}

#[test]
fn its_activation_energy_lies_among_the_published_ones() {
    // Source: published O2-path activation energies spread over 95 to 185 kJ/mol (abstracts of several papers).
    let slope = |coating| {
        let [cold, hot] = [450.0, 600.0].map(|t| rate_o2_per_s(coating, t));
        (hot / cold).ln() / (1.0 / 723.15 - 1.0 / 873.15) * 8.314_462_618 / 1000.0
    };
    for coating in Coating::ALL {
        assert!((95.0..=185.0).contains(&slope(coating)), "{coating:?}: {} kJ/mol", slope(coating));
    }
}

#[test]
fn a_coating_burns_soot_at_lower_temperatures() {
    // Common practice, no published source.
    for temp_c in [250.0, 350.0, 450.0, 550.0, 600.0] {
        assert!(rate_o2_per_s(Coating::Catalysed, temp_c) > rate_o2_per_s(Coating::Bare, temp_c), "{temp_c} deg C");
    }
}
