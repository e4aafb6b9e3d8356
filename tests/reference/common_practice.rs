//! Common practice, no published source: what the trade states of a filter, held against the model on one test profile.
//! What lamps and routes follow from a situation is checked where the judgement is tested.

use sootmark::domain::aftertreatment::kinetics::{self, Conditions};
use sootmark::domain::aftertreatment::profile::{Profile, Way};
use sootmark::domain::aftertreatment::situation::Situation;
use sootmark::domain::units::{Quantity, Unit};

const LIGHT: (f64, f64) = (20.0, 1000.0);
const MIXED: (f64, f64) = (40.0, 1600.0);
const HEAVY: [(f64, f64); 2] = [(80.0, 1600.0), (100.0, 2200.0)];

fn profile() -> Profile {
    Profile::read("common_practice.toml", include_str!("common_practice.toml")).expect("the test profile is whole")
}

fn steady(profile: &Profile, (load_percent, speed_rpm): (f64, f64)) -> Conditions {
    Conditions::at_duty(profile, load_percent, speed_rpm)
}

#[test]
fn light_work_at_low_speed_stays_near_150_c_and_burns_practically_nothing() {
    let profile = profile();
    let light = steady(&profile, LIGHT);
    assert!((light.outlet_c - 150.0).abs() < 5.0, "{}", light.outlet_c);
    assert!(light.extrapolated(), "below the measured range, to be said where it is shown");
    let burnt = kinetics::burnt_percent_in_one_hour(&profile, light.outlet_c);
    assert!(burnt < 0.5, "{burnt} % in 1 h");
    let situation = Situation {
        soot_percent: 70.0,
        outlet_c: 150.0,
        load_percent: 20.0,
        speed_rpm: 1000.0,
        ..Situation::default()
    };
    assert!(kinetics::net_rising(&profile, &situation));
}

#[test]
fn heavy_work_at_high_speed_brings_400_to_500_c_and_burns_a_significant_share() {
    let profile = profile();
    for duty in HEAVY {
        let heavy = steady(&profile, duty);
        assert!((400.0..=500.0).contains(&heavy.outlet_c), "{}", heavy.outlet_c);
        let burnt = kinetics::burnt_percent_in_one_hour(&profile, heavy.outlet_c);
        assert!(burnt > 25.0, "{burnt} % in 1 h at {}", heavy.outlet_c);
        // Work alone keeps up: it settles far below where active cleaning begins, and soot falls from there.
        assert!(heavy.balance_percent(&profile) < 20.0, "{}", heavy.balance_percent(&profile));
        assert!(kinetics::soot_percent_after(&profile, &heavy, 77.0, 1.0) < 60.0);
    }
}

#[test]
fn the_exhaust_hot_lamp_marks_heat_that_cleans_by_work() {
    let profile = profile();
    assert_eq!(profile.exhaust_hot_at_c, 450.0);
    assert!(kinetics::burnt_percent_in_one_hour(&profile, 450.0) > 25.0);
}

#[test]
fn half_an_hour_at_600_c_burns_virtually_all() {
    let profile = profile();
    let active = profile.active;
    let hot = Conditions::at_outlet(&profile, MIXED.0, MIXED.1, active.temperature_c);
    for from in [active.from_percent, active.by_percent] {
        let left = kinetics::soot_percent_after(&profile, &hot, from, active.minutes / 60.0);
        assert!(left < 1.0, "{left} % left of {from} %");
    }
    // Parked, at the top of its range and in its shortest time.
    let parked = Conditions::at_outlet(&profile, 0.0, 1200.0, profile.parked.temperature_c);
    let left = kinetics::soot_percent_after(&profile, &parked, 120.0, profile.parked.minutes_min / 60.0);
    assert!(left < 1.0, "{left} % left of 120 %");
}

#[test]
fn the_stated_levels_and_times_are_in_the_profile() {
    let profile = profile();
    let (active, parked) = (profile.active, &profile.parked);
    assert_eq!((active.from_percent, active.by_percent), (77.0, 80.0));
    assert_eq!((active.temperature_c, active.minutes, active.min_speed_rpm), (600.0, 30.0, 1500.0));
    assert_eq!((active.first_after_h, active.usual_every_h), (50.0, 100.0));
    let gas_f = Quantity::new(active.gas_up_to_c, Unit::Celsius).in_unit(Unit::Fahrenheit).unwrap();
    assert!((gas_f - 1100.0).abs() < 1e-9, "{gas_f}");
    assert_eq!((parked.from_percent, parked.to_percent), (80.0, 120.0));
    assert_eq!((parked.minutes_min, parked.minutes_max), (30.0, 45.0));
    assert_eq!((parked.min_hours_between, parked.unless_above_percent), (50.0, 77.0));
    assert_eq!(profile.stop_above_percent, 120.0);
}

#[test]
fn each_level_leaves_the_stated_ways_open() {
    let profile = profile();
    let open = |soot_percent: f64| profile.band(soot_percent).ways.clone();
    assert_eq!(open(76.9), [Way::Passive], "work alone may keep up until 77 %");
    assert!(open(78.0).contains(&Way::Active));
    assert!(open(95.0).contains(&Way::Parked) && !open(95.0).contains(&Way::Active));
    assert!(open(119.0).contains(&Way::Parked));
    assert_eq!(open(121.0), [Way::Service]);
}

#[test]
fn on_mixed_work_the_first_active_cleaning_comes_at_about_50_h() {
    // The stated hours are common practice; that a mixed duty reaches 77 % in about that time is this test profile's.
    let profile = profile();
    let hours = kinetics::hours_to_percent(&profile, &steady(&profile, MIXED), 0.0, 77.0).unwrap();
    assert!((40.0..=60.0).contains(&hours), "{hours} h");
    // After a cleaning that burns all, the model needs the same time again; the stated 100 h between two need work that
    // is hotter than this for part of the time. A duty that is a little hotter settles and never gets there.
    let hotter = Conditions::at_duty(&profile, 55.0, 1600.0);
    assert_eq!(kinetics::hours_to_percent(&profile, &hotter, 0.0, 77.0), None);
}
