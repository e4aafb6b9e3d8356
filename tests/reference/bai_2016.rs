//! Source: Bai et al. 2016, Appl. Therm. Eng. 100:1292, tables 4 to 7 (measured points on a catalysed filter of 17.0 L).

use super::close;
use sootmark::domain::aftertreatment::kinetics;
use sootmark::domain::aftertreatment::profile::Coating;

const VOLUME_L: f64 = 17.0;

/// A measured stretch at constant conditions.
struct Point {
    name: &'static str,
    temp_c: f64,
    no2_ppm: f64,
    flow_mg_per_s: f64,
    hours: f64,
    start_g: f64,
    left_g: f64,
}

const fn point(name: &'static str, conditions: [f64; 3], hours: f64, start_g: f64, left_g: f64) -> Point {
    let [temp_c, no2_ppm, flow_mg_per_s] = conditions;
    Point { name, temp_c, no2_ppm, flow_mg_per_s, hours, start_g, left_g }
}

// Source: Bai et al. 2016, tables 5 and 7: temperature in deg C, NO2 in ppm, soot in mg/s; hours; g at start; g left.
const MEASURED: [Point; 8] = [
    point("A", [250.0, 223.0, 0.2], 2.0, 69.5, 67.1),
    point("B", [300.0, 258.0, 0.2], 1.5, 71.4, 63.4),
    point("C", [350.0, 551.0, 0.2], 1.0, 72.7, 46.8),
    point("D", [400.0, 487.0, 0.3], 0.5, 70.5, 48.9),
    point("E", [450.0, 71.0, 0.5], 0.2, 72.3, 59.7),
    point("F", [500.0, 67.0, 0.6], 0.2, 71.2, 40.2),
    point("G", [550.0, 18.0, 0.6], 0.2, 70.5, 17.6),
    point("H", [600.0, 3.0, 0.6], 0.1, 74.3, 14.8),
];

impl Point {
    fn rate_per_s(&self) -> f64 {
        kinetics::rate_per_s(Coating::Catalysed, self.temp_c, self.no2_ppm)
    }

    fn predicted_left_g(&self) -> f64 {
        kinetics::after(self.start_g, self.flow_mg_per_s, self.rate_per_s(), self.hours * 3600.0)
    }

    /// Soot burnt in g: what was there and what came, less what was left.
    fn burnt_g(&self, left_g: f64) -> f64 {
        self.start_g + self.flow_mg_per_s * self.hours * 3.6 - left_g
    }

    /// How far the model is off, as a share of the soot burnt.
    fn error(&self) -> f64 {
        self.burnt_g(self.predicted_left_g()) / self.burnt_g(self.left_g) - 1.0
    }
}

#[test]
fn the_measured_points_are_met_as_well_as_the_refit_can() {
    // Derived: the refit meets them with RMS 5.5 % and at worst 12.4 % of the soot burnt.
    for point in &MEASURED {
        assert!(point.error().abs() <= 0.1245, "point {} is off by {:.1} %", point.name, point.error() * 100.0);
    }
    let rms = (MEASURED.iter().map(|point| point.error().powi(2)).sum::<f64>() / 8.0).sqrt();
    close(rms, 0.055, 0.02);
    let worst = MEASURED.iter().map(|point| point.error().abs()).fold(0.0, f64::max);
    close(worst, 0.124, 0.01);
}

#[test]
fn three_points_leave_the_grams_that_the_refit_gives() {
    // Derived: FACTS of the refit, points B, E and G.
    for (name, left_g) in [("B", 63.93), ("E", 60.19), ("G", 16.64)] {
        let point = MEASURED.iter().find(|point| point.name == name).unwrap();
        assert!((point.predicted_left_g() - left_g).abs() < 0.006, "{name}: {}", point.predicted_left_g());
    }
}

#[test]
fn a_balance_that_no_fit_used_is_met() {
    // Source: Bai et al. 2016: measured balance of 1.27 g/L at 283 deg C, 289 ppm, 0.43 mg/s; used in no fit.
    let rate = kinetics::rate_per_s(Coating::Catalysed, 283.0, 289.0);
    let balance_g_per_l = kinetics::balance_g(0.43, rate) / VOLUME_L;
    close(balance_g_per_l, 1.27, 0.05);
    // Derived: the refit gives 1.319 g/L.
    close(balance_g_per_l, 1.319, 1e-3);
}

#[test]
fn the_papers_own_factor_gives_the_papers_own_balance() {
    // Source: Bai et al. 2016: A = 4200 1/s, NO2 only, 238 deg C, 213 ppm, 0.64 mg/s: 5.6 g/L. Derived: 5.636 g/L.
    let rescaled = 4200.0 / kinetics::NO2_FACTOR_PER_S;
    let rate = kinetics::rate_no2_per_s(Coating::Catalysed, 238.0, 213.0) * rescaled;
    let balance_g_per_l = kinetics::balance_g(0.64, rate) / VOLUME_L;
    close(balance_g_per_l, 5.6, 0.01);
    close(balance_g_per_l, 5.636, 2e-4);
}

#[test]
fn the_printed_energy_of_the_oxygen_path_is_a_misprint() {
    // Source: Bai et al. 2016, table 6 prints 408 000 J/mol: at 600 deg C nothing would burn, against point H.
    let printed = kinetics::O2_FACTOR_PER_S * (-408_000.0 / (kinetics::GAS_CONSTANT * 873.15)).exp();
    assert!(printed < 1e-19, "{printed}");
    let h = &MEASURED[7];
    assert!(h.burnt_g(h.left_g) > 0.8 * h.start_g, "most of the soot burnt in 6 min");
    assert!(h.rate_per_s() > 1e-3);
}

#[test]
fn an_independent_activation_energy_is_near_ours() {
    // Source: Shrivastava et al. 2010 (PNNL): 46.5 kJ/mol for NO2 alone. Two rates give the model's own slope back.
    let [cold, hot] = [250.0, 400.0].map(|t| kinetics::rate_no2_per_s(Coating::Catalysed, t, 200.0));
    let slope = (hot / cold).ln() / (1.0 / 523.15 - 1.0 / 673.15) * kinetics::GAS_CONSTANT;
    close(slope, 46_500.0, 0.03);
}
