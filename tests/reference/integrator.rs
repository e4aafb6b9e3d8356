//! The journey's integrator against an independent one: the same equations, written down again here from the published
//! parameters and the profile's points, and solved by a general-purpose method of high order with a tight tolerance.
//!
//! What happens when is taken from the journey; how temperature and soot move in between is not.

use super::duties::{machines, random};
use ode_solvers::{Dop853, OutputType, System, Vector3};
use sootmark::domain::aftertreatment::happening::Happening;
use sootmark::domain::aftertreatment::journey::{Journey, Point, Stretch};
use sootmark::domain::aftertreatment::kinetics;
use sootmark::domain::aftertreatment::profile::{Coating, Profile};
use sootmark::domain::aftertreatment::situation::{Regeneration, Situation};

/// Source: Bai et al. 2016, Appl. Therm. Eng. 100:1292 (energies, order); the factors are the project's refit of its points.
fn catalysed_per_s(kelvin: f64, no2_ppm: f64) -> f64 {
    let rt = 8.314_462_618 * kelvin;
    3400.0 * (-45_500.0 / rt).exp() * (no2_ppm * 1e-6).powf(1.13) + 14_300.0 * (-108_000.0 / rt).exp()
}

/// Source: Konstandopoulos and Papaioannou, KONA 26 (2008), as derived from it.
fn bare_per_s(kelvin: f64) -> f64 {
    4.71e7 * (-21_500.0 / kelvin).exp()
}

/// Straight between the points, held at the ends.
fn straight(xs: &[f64], ys: &[f64], x: f64) -> f64 {
    if x <= xs[0] {
        return ys[0];
    }
    match xs.windows(2).position(|pair| x <= pair[1]) {
        Some(at) => ys[at] + (ys[at + 1] - ys[at]) * (x - xs[at]) / (xs[at + 1] - xs[at]),
        None => ys[ys.len() - 1],
    }
}

/// What holds between two changes.
struct Regime<'p> {
    profile: &'p Profile,
    flow_g_per_s: f64,
    gas_flows: bool,
    target_c: f64,
    time_constant_s: f64,
}

impl<'p> Regime<'p> {
    fn of(profile: &'p Profile, s: &Situation, ambient_c: f64) -> Self {
        let flow_mg = profile.soot_mg_per_s.at(s.load_percent, s.speed_rpm).value;
        let work_c =
            profile.outlet_c.at(s.load_percent, s.speed_rpm).value + ambient_c - profile.thermal.reference_ambient_c;
        let (target_c, time_constant_s) = match s.regeneration {
            _ if !s.engine_running => (ambient_c, profile.thermal.cooling_s),
            Regeneration::None => (work_c, profile.thermal.time_constant_s),
            Regeneration::Active => (profile.active.temperature_c, profile.active.rise_s),
            Regeneration::Parked => (profile.parked.temperature_c, profile.parked.rise_s),
        };
        let flow_g_per_s = if s.engine_running { flow_mg * 1e-3 } else { 0.0 };
        Self { profile, flow_g_per_s, gas_flows: s.engine_running, target_c, time_constant_s }
    }

    fn rate_per_s(&self, temp_c: f64) -> f64 {
        let kelvin = temp_c + 273.15;
        match self.profile.filter.coating {
            _ if !self.gas_flows => 0.0,
            Coating::Bare => bare_per_s(kelvin),
            Coating::Catalysed => {
                let curve = &self.profile.no2_ppm;
                catalysed_per_s(kelvin, straight(curve.xs(), curve.values(), temp_c))
            }
        }
    }
}

/// Soot in g, temperature in deg C, soot burnt in g.
type Filter = Vector3<f64>;

impl System<f64, Filter> for &Regime<'_> {
    fn system(&self, _: f64, filter: &Filter, change: &mut Filter) {
        let burns = self.rate_per_s(filter[1]) * filter[0];
        change[0] = self.flow_g_per_s - burns;
        change[1] = (self.target_c - filter[1]) / self.time_constant_s;
        change[2] = burns;
    }
}

fn solved(regime: &Regime<'_>, filter: Filter, seconds: f64) -> Filter {
    if seconds <= 0.0 {
        return filter;
    }
    let mut solver = Dop853::new(regime, 0.0, seconds, seconds, filter, 1e-12, 1e-13);
    solver.set_output(OutputType::Sparse);
    solver.integrate().expect("the independent solver gets through");
    *solver.y_out().last().expect("an end")
}

/// The stretches of a trajectory over which nothing changes but temperature, soot and ash.
fn regimes(points: &[Point]) -> Vec<(Point, f64)> {
    let held = |s: &Situation| (s.load_percent, s.speed_rpm, s.engine_running, s.regeneration);
    let mut found: Vec<(Point, f64)> = Vec::new();
    for pair in points.windows(2) {
        match found.last_mut() {
            Some((first, to_s)) if held(&first.situation) == held(&pair[0].situation) => *to_s = pair[1].seconds,
            _ => found.push((pair[0], pair[1].seconds)),
        }
    }
    found
}

fn ambient_at(duty: &[Stretch], seconds: f64) -> f64 {
    let mut end_s = 0.0;
    let found = duty.iter().find(|stretch| {
        end_s += stretch.minutes * 60.0;
        seconds < end_s
    });
    found.or(duty.last()).expect("a stretch").ambient_c
}

/// Splits a stretch of time where the ambient temperature changes.
fn cuts(duty: &[Stretch], from_s: f64, to_s: f64) -> Vec<f64> {
    let mut end_s = 0.0;
    let mut moments = vec![from_s];
    for stretch in duty {
        end_s += stretch.minutes * 60.0;
        if end_s > from_s + 1e-9 && end_s < to_s - 1e-9 {
            moments.push(end_s);
        }
    }
    moments.push(to_s);
    moments
}

/// Largest relative difference of soot that two solutions of one journey have at any change of regime.
fn difference(profile: &Profile, start: &Situation, duty: &[Stretch]) -> f64 {
    let journey = Journey::make(profile, start, duty);
    let full_g = profile.filter.volume_l * profile.filter.full_load_g_per_l;
    let mut filter = Filter::new(start.soot_percent / 100.0 * full_g, start.outlet_c, 0.0);
    let mut worst: f64 = 0.0;
    for (first, to_s) in regimes(&journey.points) {
        for pair in cuts(duty, first.seconds, to_s).windows(2) {
            let ambient_c = ambient_at(duty, (pair[0] + pair[1]) / 2.0);
            let regime = Regime::of(profile, &first.situation, ambient_c);
            filter = solved(&regime, filter, pair[1] - pair[0]);
        }
        let there = journey.at(to_s).situation;
        let found_g = there.soot_percent / 100.0 * full_g;
        // A millionth of a milligram is nothing, however little soot there is.
        worst = worst.max((found_g - filter[0]).abs() / filter[0].abs().max(1e-9));
        assert!((there.outlet_c - filter[1]).abs() < 1e-5, "{} and {}", there.outlet_c, filter[1]);
    }
    let costs = journey.costs;
    let (burnt_g, had_g) = (costs.burnt_g(), costs.soot_start_g + costs.soot_in_g);
    assert!((burnt_g - filter[2]).abs() <= 1e-7 * had_g, "burnt {burnt_g} and {} of {had_g}", filter[2]);
    worst
}

/// A quarter of the thousand random journeys, so that the quarters can run side by side.
fn quarter(which: u64) {
    let machines = machines();
    for number in which * 250..(which + 1) * 250 {
        let machine = &machines[usize::try_from(number % 4).expect("small")];
        let (start, duty) = random(number);
        let difference = difference(machine, &start, &duty);
        assert!(difference < 1e-6, "journey {number} of {} differs by {difference:e}", machine.id);
    }
}

#[test]
fn random_journeys_0_to_249_agree_with_an_independent_solver() {
    quarter(0);
}

#[test]
fn random_journeys_250_to_499_agree_with_an_independent_solver() {
    quarter(1);
}

#[test]
fn random_journeys_500_to_749_agree_with_an_independent_solver() {
    quarter(2);
}

#[test]
fn random_journeys_750_to_999_agree_with_an_independent_solver() {
    quarter(3);
}

#[test]
fn soot_is_never_negative_and_none_is_lost() {
    let machines = machines();
    for number in 0..1000 {
        let machine = &machines[usize::try_from(number % 4).expect("small")];
        let (start, duty) = random(number);
        let journey = Journey::make(machine, &start, &duty);
        let costs = journey.costs;
        assert!(journey.points.iter().all(|point| point.situation.soot_percent >= 0.0), "journey {number}");
        let had = costs.soot_start_g + costs.soot_in_g;
        let lost = had - costs.burnt_g() - costs.soot_left_g;
        assert!(lost.abs() <= 1e-9 * had, "journey {number} of {}: {lost:e} g of {had} g", machine.id);
    }
}

#[test]
fn settled_work_follows_the_closed_form() {
    // m(t) = S/k + (m0 - S/k) e^(-kt): what the kinetics answer for constant conditions.
    for machine in machines() {
        for (load, speed, soot_percent) in [(20.0, 1000.0, 10.0), (85.0, 2000.0, 45.0)] {
            let conditions = kinetics::Conditions::at_duty(&machine, load, speed);
            let start = Situation { soot_percent, outlet_c: conditions.outlet_c, ..Situation::default() };
            let journey = Journey::make(&machine, &start, &[Stretch::work(&machine, 300.0, load, speed)]);
            let expected = kinetics::soot_percent_after(&machine, &conditions, soot_percent, 5.0);
            super::close(journey.end.situation.soot_percent, expected, 1e-9);
        }
    }
}

#[test]
fn an_edge_is_met_when_the_closed_form_says() {
    for machine in machines() {
        let conditions = kinetics::Conditions::at_duty(&machine, 15.0, 1000.0);
        let (from, to) = (machine.active.from_percent - 2.0, machine.active.from_percent);
        let hours = kinetics::hours_to_percent(&machine, &conditions, from, to).expect("light work gets there");
        let start = Situation { soot_percent: from, outlet_c: conditions.outlet_c, ..Situation::default() };
        let duty = [Stretch::work(&machine, hours * 60.0 + 10.0, 15.0, 1000.0)];
        let journey = Journey::make(&machine, &start, &duty);
        let crossed = |happening: &Happening| matches!(happening, Happening::Band { .. });
        let event = journey.events.iter().find(|event| crossed(&event.happening)).expect("a band is crossed");
        assert!((event.point.seconds - hours * 3600.0).abs() < 1e-3, "{}", machine.id);
        assert!(event.point.situation.soot_percent == to, "at the edge itself");
    }
}
