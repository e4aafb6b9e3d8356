//! Every machine of the bank is whole, and behaves as a machine of its kind does.

use sootmark::domain::aftertreatment::kinetics::{self, Conditions};
use sootmark::domain::aftertreatment::profile::Profile;
use std::path::Path;

const LIGHT: (f64, f64) = (10.0, 1000.0);
const HEAVY: (f64, f64) = (85.0, 2100.0);

pub(super) fn machines() -> Vec<Profile> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("question-bank/machines");
    let entries = std::fs::read_dir(folder).expect("the bank has machines");
    let mut files: Vec<_> = entries.map(|entry| entry.expect("a file of the bank").path()).collect();
    files.sort();
    files
        .iter()
        .map(|path| {
            let name = path.file_name().expect("a file has a name").to_string_lossy();
            let text = std::fs::read_to_string(path).expect("a machine's file is text");
            let machine = Profile::read(&name, &text).unwrap_or_else(|problems| panic!("{problems:#?}"));
            assert_eq!(format!("{}.toml", machine.id), name, "a machine's file is called by its id");
            machine
        })
        .collect()
}

#[test]
fn there_are_at_least_three_families() {
    assert!(machines().len() >= 3);
}

#[test]
fn no_two_families_share_a_number_that_could_be_learnt_by_rote() {
    let machines = machines();
    for (index, one) in machines.iter().enumerate() {
        for other in &machines[index + 1..] {
            let numbers = |machine: &Profile| {
                let (active, parked) = (machine.active, &machine.parked);
                [
                    ("exhaust hot", machine.exhaust_hot_at_c),
                    ("active from", active.from_percent),
                    ("active by", active.by_percent),
                    ("active temperature", active.temperature_c),
                    ("active minutes", active.minutes),
                    ("active speed", active.min_speed_rpm),
                    ("active interval", active.usual_every_h),
                    ("parked from", parked.from_percent),
                    ("parked shortest", parked.minutes_min),
                    ("parked hours", parked.min_hours_between),
                    ("stop", machine.stop_above_percent),
                    ("derate", f64::from(machine.inhibit.derate_after)),
                    ("ash", machine.ash_service_percent),
                ]
            };
            for ((what, value), (_, same)) in numbers(one).into_iter().zip(numbers(other)) {
                assert_ne!(value, same, "{what} of {} and {}", one.id, other.id);
            }
            assert_ne!(one.parked.interlocks, other.parked.interlocks, "{} and {}", one.id, other.id);
        }
    }
}

#[test]
fn light_work_takes_tens_of_hours_through_the_bands() {
    // Common practice, no published source: tens of engine hours from clean to the first cleaning.
    for machine in machines() {
        let light = Conditions::at_duty(&machine, LIGHT.0, LIGHT.1);
        let mut before = 0.0;
        for band in &machine.bands[1..] {
            let hours = kinetics::hours_to_percent(&machine, &light, 0.0, band.from_percent).unwrap();
            assert!(hours > before + 5.0, "{}: {} after {hours} h", machine.id, band.id);
            before = hours;
        }
        let due = kinetics::hours_to_percent(&machine, &light, 0.0, machine.active.from_percent).unwrap();
        assert!((30.0..100.0).contains(&due), "{}: active is due after {due} h", machine.id);
    }
}

#[test]
fn heavy_work_keeps_the_filter_below_where_active_cleaning_begins() {
    for machine in machines() {
        let heavy = Conditions::at_duty(&machine, HEAVY.0, HEAVY.1);
        let balance = heavy.balance_percent(&machine);
        assert!(balance < machine.active.from_percent / 2.0, "{} settles at {balance} %", machine.id);
        assert_eq!(kinetics::hours_to_percent(&machine, &heavy, 0.0, machine.active.from_percent), None);
    }
}

#[test]
fn a_started_cleaning_that_runs_its_time_burns_virtually_all() {
    for machine in machines() {
        let (active, parked) = (machine.active, &machine.parked);
        let runs = [
            (active.temperature_c, active.minutes, active.by_percent),
            (parked.temperature_c, parked.minutes_min, parked.to_percent),
        ];
        for (temperature_c, minutes, from_percent) in runs {
            let hot = Conditions::at_outlet(&machine, 20.0, active.min_speed_rpm, temperature_c);
            let left = kinetics::soot_percent_after(&machine, &hot, from_percent, minutes / 60.0);
            assert!(left < 2.0, "{}: {left} % left of {from_percent} % after {minutes} min", machine.id);
        }
    }
}

#[test]
fn work_can_become_hot_enough_for_the_lamp_and_never_as_hot_as_a_cleaning() {
    for machine in machines() {
        let hottest = machine.outlet_c.values().fold(0.0, f64::max);
        assert!(hottest > machine.exhaust_hot_at_c, "{}", machine.id);
        assert!(hottest < machine.active.temperature_c, "{}", machine.id);
    }
}

#[test]
fn more_load_and_more_speed_are_hotter_and_make_more_soot() {
    for machine in machines() {
        for map in [&machine.outlet_c, &machine.soot_mg_per_s] {
            for speed in map.speeds_rpm() {
                for loads in map.loads_percent().windows(2) {
                    assert!(map.at(loads[1], *speed).value > map.at(loads[0], *speed).value, "{}", machine.id);
                }
            }
            for load in map.loads_percent() {
                for speeds in map.speeds_rpm().windows(2) {
                    assert!(map.at(*load, speeds[1]).value > map.at(*load, speeds[0]).value, "{}", machine.id);
                }
            }
        }
    }
}
