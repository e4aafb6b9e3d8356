//! Values derived by hand (an independent evaluation of the same formulas) from the parameters named in
//! `src/domain/aftertreatment/kinetics.rs`, and the temperature windows of the literature.

use super::close;
use sootmark::domain::aftertreatment::kinetics;
use sootmark::domain::aftertreatment::profile::Coating;

/// Full load of the reference filter in g. Source: Bai et al. 2016 (17.0 L); DieselNet, "DPF ash" (6 g/L, heavy duty).
const FULL_G: f64 = 17.0 * 6.0;

fn catalysed(temp_c: f64, no2_ppm: f64) -> f64 {
    kinetics::rate_per_s(Coating::Catalysed, temp_c, no2_ppm)
}

#[test]
fn two_rates() {
    // Derived: 3400 exp(-45500 / (8.314462618 * 573.15)) (258e-6)^1.13 and 14300 exp(-108000 / (8.314462618 * 823.15)).
    close(kinetics::rate_no2_per_s(Coating::Catalysed, 300.0, 258.0), 2.138e-5, 3e-4);
    close(kinetics::rate_o2_per_s(Coating::Catalysed, 550.0), 2.005e-3, 3e-4);
}

#[test]
fn light_work_burns_next_to_nothing() {
    // Derived: 0.196 % of the soot in 1 h at 150 deg C and 200 ppm with none coming.
    let left = kinetics::after(100.0, 0.0, catalysed(150.0, 200.0), 3600.0);
    close(100.0 - left, 0.196, 3e-3);
}

#[test]
fn twenty_minutes_at_three_temperatures() {
    // Derived: from 90 %, 20 min, 0.6 mg/s, no NO2: 69.23, 8.38 and 0.356 % left at 450, 550 and 600 deg C.
    for (temp_c, left_percent) in [(450.0, 69.23), (550.0, 8.38), (600.0, 0.356)] {
        let left_g = kinetics::after(0.9 * FULL_G, 0.6, catalysed(temp_c, 0.0), 1200.0);
        assert!((left_g / FULL_G * 100.0 - left_percent).abs() < 0.006, "{temp_c}: {}", left_g / FULL_G * 100.0);
    }
}

#[test]
fn light_work_fills_the_filter_in_a_known_time() {
    // Derived: 40 % to 80 % at 150 deg C, no NO2, 0.64 mg/s: 17.71 h (0.4 * 102 g / 2.304 g/h).
    let seconds = kinetics::seconds_to_reach(0.4 * FULL_G, 0.8 * FULL_G, 0.64, catalysed(150.0, 0.0)).unwrap();
    assert!((seconds / 3600.0 - 17.71).abs() < 0.005, "{}", seconds / 3600.0);
}

#[test]
fn the_paths_take_over_where_the_literature_says() {
    // Source: C. R. Chimie 17 (2014) 672; Fiebig et al. 2014, J. Occup. Med. Toxicol. 9:6: NO2 matters above about
    // 250 deg C, O2 directly above about 450 deg C and alone above 600 deg C.
    let share = |temp_c, no2_ppm| 1.0 - (-catalysed(temp_c, no2_ppm) * 3600.0_f64).exp();
    assert!(share(200.0, 200.0) < 0.01 && share(250.0, 223.0) > 0.02, "NO2 begins to count around 250 deg C");
    let oxygen = |temp_c| 1.0 - (-kinetics::rate_o2_per_s(Coating::Catalysed, temp_c) * 3600.0_f64).exp();
    assert!(oxygen(350.0) < 0.06 && oxygen(450.0) > 0.4, "O2 counts from around 450 deg C");
    let by_oxygen = kinetics::rate_o2_per_s(Coating::Catalysed, 610.0) / catalysed(610.0, 18.0);
    assert!(by_oxygen > 0.95, "above 600 deg C O2 burns alone: {by_oxygen}");
}
