//! What must hold for the kinetics whatever the profile. The published values are in the `reference` tests.

use super::*;
use proptest::prelude::*;

/// Classical fourth-order Runge-Kutta on the balance: an independent way to the same mass, in g.
fn integrated(start_g: f64, flow_mg_per_s: f64, rate_per_s: f64, seconds: f64) -> f64 {
    let steps = 2000;
    let (h, pace) = (seconds / f64::from(steps), |m: f64| flow_mg_per_s / 1000.0 - rate_per_s * m);
    (0..steps).fold(start_g, |m, _| {
        let k1 = pace(m);
        let k2 = pace(m + h / 2.0 * k1);
        let k3 = pace(m + h / 2.0 * k2);
        let k4 = pace(m + h * k3);
        m + h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
    })
}

fn close(found: f64, expected: f64, relative: f64) -> bool {
    (found - expected).abs() <= relative * expected.abs().max(1e-9)
}

prop_compose! {
    /// Constant conditions of a machine: start in g, flow in mg/s, rate in 1/s, time in s.
    fn stretch()(start in 0.0..200.0, flow in 0.0..2.0, log_rate in -9.0..-2.0, seconds in 0.0..20_000.0)
        -> (f64, f64, f64, f64) {
        (start, flow, libm::pow(10.0, log_rate), seconds)
    }
}

proptest! {
    #[test]
    fn hotter_burns_faster(t in 20.0..700.0, warmer in 0.1..50.0, no2 in 0.0..1000.0) {
        for coating in Coating::ALL {
            prop_assert!(rate_per_s(coating, t + warmer, no2) > rate_per_s(coating, t, no2));
        }
    }

    #[test]
    fn more_no2_burns_faster_where_there_is_a_coating(t in 20.0..700.0, no2 in 0.0..1000.0, more in 0.1..500.0) {
        prop_assert!(rate_no2_per_s(Coating::Catalysed, t, no2 + more) > rate_no2_per_s(Coating::Catalysed, t, no2));
        prop_assert_eq!(rate_no2_per_s(Coating::Bare, t, no2 + more), 0.0);
    }

    /// Trend: Zhong et al. 2022, Chem. Eng. Sci. 262:118013.
    #[test]
    fn more_no2_raises_the_temperature_at_which_oxygen_takes_over(no2 in 5.0..600.0, more in 5.0..400.0) {
        let takes_over = |no2: f64| {
            (200..900)
                .map(f64::from)
                .find(|t| rate_o2_per_s(Coating::Catalysed, *t) > rate_no2_per_s(Coating::Catalysed, *t, no2))
                .unwrap()
        };
        prop_assert!(takes_over(no2 + more) >= takes_over(no2));
        prop_assert!(takes_over(2.0 * no2) > takes_over(no2));
    }

    #[test]
    fn more_soot_gives_more_load_and_none_goes_below_nothing((start, flow, rate, seconds) in stretch(), more in 0.01..1.0) {
        let mass = after(start, flow, rate, seconds);
        prop_assert!(mass >= 0.0 && mass.is_finite());
        prop_assert!(after(start, flow + more, rate, seconds + 1.0) > after(start, flow, rate, seconds + 1.0));
        prop_assert!(after(start + more, flow, rate, seconds) >= mass);
    }

    #[test]
    fn two_stretches_are_one((start, flow, rate, seconds) in stretch(), share in 0.0..1.0) {
        let first = after(start, flow, rate, seconds * share);
        let both = after(first, flow, rate, seconds * (1.0 - share));
        prop_assert!(close(both, after(start, flow, rate, seconds), 1e-12), "{both}");
    }

    #[test]
    fn the_closed_form_is_what_stepping_gives((start, flow, rate, seconds) in stretch()) {
        // 2000 steps of at most a tenth of the time constant: the method's own error stays far below the tolerance.
        let (closed, stepped) = (after(start, flow, rate, seconds), integrated(start, flow, rate, seconds));
        prop_assert!((closed - stepped).abs() < 1e-6, "{closed} against {stepped}");
    }

    #[test]
    fn the_time_to_a_mass_leads_to_that_mass((start, flow, rate, _) in stretch(), target in 0.0..200.0) {
        let balance = balance_g(flow, rate);
        let between = (start.min(balance)..=start.max(balance)).contains(&target);
        match seconds_to_reach(start, target, flow, rate) {
            Some(seconds) => {
                prop_assert!(between && seconds >= 0.0);
                let reached = after(start, flow, rate, seconds);
                // Far behind, close to the balance, the last digits of the time decide: compare the mass, not the time.
                prop_assert!((reached - target).abs() < 1e-7 * (1.0 + start + target), "{reached} against {target}");
            }
            None => prop_assert!(!between || target == balance, "{start} -> {target}, balance {balance}"),
        }
    }

    #[test]
    fn the_time_to_a_mass_is_the_time_it_took((start, flow, rate, seconds) in stretch()) {
        // While something still moves: beyond some time constants the mass no longer tells the time.
        let seconds = seconds.min(10.0 / rate);
        let reached = after(start, flow, rate, seconds);
        prop_assume!((reached - start).abs() > 1e-3 && (reached - balance_g(flow, rate)).abs() > 1e-3);
        let again = seconds_to_reach(start, reached, flow, rate).unwrap();
        prop_assert!((again - seconds).abs() < 1e-3 * (1.0 + seconds), "{again} against {seconds}");
    }
}

#[test]
fn a_rate_that_vanishes_leaves_a_straight_line() {
    assert!(close(after(10.0, 0.5, 0.0, 7200.0), 13.6, 1e-15));
    assert!(close(after(10.0, 0.5, 1e-300, 7200.0), 13.6, 1e-15));
    assert!(close(after(10.0, 0.5, 1e-15, 7200.0), 13.6, 1e-9));
    assert_eq!(seconds_to_reach(10.0, 13.6, 0.5, 0.0).map(f64::round), Some(7200.0));
    assert_eq!(seconds_to_reach(10.0, 13.6, 0.5, 1e-15).map(f64::round), Some(7200.0));
    assert_eq!(after(10.0, 0.5, 1e-3, 0.0), 10.0);
}

#[test]
fn what_never_comes_has_no_time() {
    assert_eq!(seconds_to_reach(10.0, 20.0, 0.0, 0.0), None, "nothing comes");
    assert_eq!(seconds_to_reach(10.0, 5.0, 0.5, 0.0), None, "nothing burns");
    assert_eq!(seconds_to_reach(10.0, 0.0, 0.0, 1e-3), None, "an empty filter is approached for ever");
    assert_eq!(seconds_to_reach(10.0, 50.0, 0.5, 1e-5), None, "the balance, 50 g, is approached for ever");
    assert_eq!(seconds_to_reach(10.0, -1.0, 0.0, 1e-3), None, "less than nothing");
    assert_eq!(seconds_to_reach(10.0, 10.0, 0.0, 0.0), Some(0.0), "already there");
    assert_eq!(balance_g(0.5, 0.0), f64::INFINITY);
    assert_eq!(balance_g(0.0, 0.0), 0.0);
}

fn profile() -> Profile {
    Profile::read("good.toml", include_str!("../profile_reader/good.toml")).unwrap()
}

proptest! {
    #[test]
    fn a_smaller_filter_fills_sooner(load in 0.0..100.0, speed in 800.0..2000.0, from in 0.0..100.0, hours in 0.1..100.0) {
        let large = profile();
        let mut small = large.clone();
        small.filter.volume_l *= 0.8;
        let duty = Conditions::at_duty(&large, load, speed);
        let [more, less] = [&small, &large].map(|machine| soot_percent_after(machine, &duty, from, hours));
        prop_assert!(more > less, "{more} against {less}");
        prop_assert!(duty.balance_percent(&small) > duty.balance_percent(&large));
    }
}

#[test]
fn soot_rises_below_the_balance_and_falls_above_it() {
    let profile = profile();
    let at = |soot_percent| Situation { soot_percent, outlet_c: 300.0, ..Situation::default() };
    let balance = balance_percent(&profile, &at(0.0));
    assert!((5.0..70.0).contains(&balance), "{balance}");
    assert!(net_rising(&profile, &at(balance * 0.99)) && !net_rising(&profile, &at(balance * 1.01)));
    let conditions = Conditions::of(&profile, &at(0.0));
    assert!(close(soot_percent_after(&profile, &conditions, 10.0, 1e6), balance, 1e-9));
    let hours = hours_to_percent(&profile, &conditions, 0.0, balance / 2.0).unwrap();
    assert!(close(soot_percent_after(&profile, &conditions, 0.0, hours), balance / 2.0, 1e-12));
    assert_eq!(hours_to_percent(&profile, &conditions, 0.0, balance * 1.5), None);
}

#[test]
fn an_engine_that_stands_still_makes_no_soot() {
    let profile = profile();
    let off = Situation { engine_running: false, soot_percent: 0.0, outlet_c: 20.0, ..Situation::default() };
    assert!(!net_rising(&profile, &off));
    assert_eq!(balance_percent(&profile, &off), 0.0);
}

#[test]
fn readings_outside_the_measured_range_are_marked() {
    let profile = profile();
    let marked = |outlet_c| Conditions::at_outlet(&profile, 50.0, 1500.0, outlet_c).extrapolated();
    assert_eq!([249.0, 250.0, 600.0, 601.0].map(marked), [true, false, false, true]);
}

#[test]
fn cold_and_impossible_temperatures_burn_nothing() {
    for temp_c in [-273.15, -300.0, -40.0] {
        let rate = rate_per_s(Coating::Catalysed, temp_c, 500.0);
        assert!((0.0..1e-9).contains(&rate), "{rate} at {temp_c}");
    }
    assert_eq!(rate_no2_per_s(Coating::Catalysed, 300.0, -5.0), 0.0);
}
