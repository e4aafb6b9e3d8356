//! The numbers behind the plots of the lessons, from the filter model on a machine's profile.
//!
//! Never fits, rounds or smooths a point: every one is the model's own, and what a title claims is read off the points.

use crate::domain::aftertreatment::journey::Bench;
use crate::domain::aftertreatment::kinetics::{
    Conditions, MEASURED_FROM_C, MEASURED_TO_C, burnt_percent_in_one_hour, soot_percent_after,
};
use crate::domain::aftertreatment::lamp::Lamp;
use crate::domain::aftertreatment::profile::{Coating, Profile};
use crate::domain::units::{Quantity, TemperatureUnit, Unit, plain_number};
use crate::web::plot::axis::Axis;
use crate::web::plot::course;
use crate::web::plot::gauge::Gauge;
use crate::web::plot::lesson;
use crate::web::plot::line::{Line, LinePlot, Stripe};

/// The soot load in percent that the duties begin at; chosen by us: somewhere in the middle, where all three can move.
const START_PERCENT: f64 = 40.0;
/// How long the duties last, in hours: a week of work.
const WEEK_H: f64 = 40.0;
/// Hours between two points of a line; every stretch of a duty is a multiple of it.
const STEP_H: f64 = 0.5;

fn degrees(celsius: f64, unit: TemperatureUnit) -> f64 {
    Quantity::new(celsius, Unit::Celsius).for_reader(unit).value
}

fn shown(celsius: f64, unit: TemperatureUnit) -> String {
    let quantity = Quantity::new(celsius, Unit::Celsius).for_reader(unit);
    Quantity::new(quantity.value.round(), quantity.unit).to_string()
}

/// A share as a title says it: whole percent, and no "0 %" for what is a little more.
fn share(percent: f64) -> String {
    if percent < 1.0 { "less than 1 %".to_owned() } else { format!("{} %", plain_number(percent.round())) }
}

/// Share of the soot that burns in one hour at an outlet temperature, with none coming.
pub(super) fn burnt_against_temperature(profile: &Profile, unit: TemperatureUnit) -> (LinePlot, String) {
    let burnt = |celsius: f64| burnt_percent_in_one_hour(profile, celsius);
    let points = (15..=65).map(|tens| f64::from(tens) * 10.0).map(|celsius| (celsius, burnt(celsius)));
    let told =
        [150.0, 300.0, 450.0, 600.0].map(|celsius| format!("{} at {}", share(burnt(celsius)), shown(celsius, unit)));
    let title =
        format!("{}: of its soot, one hour burns {}, {}, {} and {}.", profile.name, told[0], told[1], told[2], told[3]);
    let line = Line { name: profile.name.clone(), points: points.collect() };
    let mut plot = lesson::burnt_in_one_hour(&title, vec![line], unit);
    let note = match profile.filter.coating {
        Coating::Catalysed => {
            let (from, to) = (degrees(MEASURED_FROM_C, unit), degrees(MEASURED_TO_C, unit));
            plot.stripes.push(Stripe { across: true, from, to, name: "measured".to_owned() });
            "A coated filter. The model was fitted to measured points in the striped range; outside it the line is \
             carried on. No new soot comes in."
        }
        Coating::Bare => {
            "A bare filter, without coating: NO2 burns nothing here. The law of burning is a published one, without a \
             stated range. No new soot comes in."
        }
    };
    (plot, note.to_owned())
}

/// The most lines that a plot can tell apart.
const MOST_LINES: usize = 4;

/// Where the outlet settles over the load, for speeds from the slowest to the fastest of the machine's map.
pub(super) fn outlet_against_load(profile: &Profile, unit: TemperatureUnit) -> (LinePlot, String) {
    let map = &profile.outlet_c;
    let (loads, speeds) = (map.loads_percent(), map.speeds_rpm());
    let count = speeds.len().min(MOST_LINES);
    let chosen = (0..count).map(|nth| speeds[nth * (speeds.len() - 1) / (count - 1).max(1)]);
    let line = |speed: f64| Line {
        name: format!("{} rpm", plain_number(speed)),
        points: loads.iter().map(|load| (*load, degrees(map.at(*load, speed).value, unit))).collect(),
    };
    let lines: Vec<Line> = chosen.map(line).collect();
    let symbol = Quantity::new(0.0, Unit::Celsius).for_reader(unit).unit.symbol();
    let values = || map.values().chain([profile.exhaust_hot_at_c]).map(|celsius| degrees(celsius, unit));
    let up = (values().fold(f64::INFINITY, f64::min), values().fold(f64::NEG_INFINITY, f64::max));
    let up = Axis::covering("Outlet temperature", symbol, up.0, up.1);
    let lamp = degrees(profile.exhaust_hot_at_c, unit);
    let stripe = Stripe { across: false, from: lamp, to: up.to, name: Lamp::ExhaustHot.name().to_owned() };
    let [low, high] = [20.0, 80.0].map(|load| {
        let told = |speed: &f64| shown(map.at(load, *speed).value, unit);
        let ends = [speeds.first(), speeds.last()].map(|speed| speed.map(told).unwrap_or_default());
        format!("{} to {} at {} % load", ends[0], ends[1], plain_number(load))
    });
    let title = format!("{}: the outlet settles at {low} and at {high}, slowest to fastest.", profile.name);
    let note = format!(
        "The machine's own map, straight between its points. The {} is lit from {}. While a regeneration runs the outlet \
         is hotter than this.",
        Lamp::ExhaustHot.name(),
        shown(profile.exhaust_hot_at_c, unit)
    );
    let across = Axis::covering("Engine load", "%", loads[0], loads[loads.len() - 1]);
    (LinePlot { title, across, up, stripes: vec![stripe], lines }, note)
}

/// Work at one load (%) and speed (rpm) for some hours.
struct Stretch {
    load_percent: f64,
    speed_rpm: f64,
    hours: f64,
}

/// Stretches of work that follow each other round and round.
struct Duty {
    name: &'static str,
    stretches: Vec<Stretch>,
}

/// A light, a mixed and a heavy duty for a machine; the loads are chosen by us, the speeds are those of its own map.
fn duties(profile: &Profile) -> [Duty; 3] {
    let speeds = profile.soot_mg_per_s.speeds_rpm();
    let speed = |nth: usize| speeds.get(nth).or(speeds.last()).copied().unwrap_or_default();
    let light = || Stretch { load_percent: 20.0, speed_rpm: speed(1), hours: 1.0 };
    let medium = Stretch { load_percent: 50.0, speed_rpm: speed(2), hours: 1.0 };
    let heavy = Stretch { load_percent: 90.0, speed_rpm: speed(speeds.len().saturating_sub(1)), hours: 1.0 };
    [
        Duty { name: "light duty", stretches: vec![light()] },
        Duty { name: "mixed duty", stretches: vec![light(), medium] },
        Duty { name: "heavy duty", stretches: vec![heavy] },
    ]
}

/// The soot load along a duty: the closed form over each stretch, the next one beginning where the last ended.
fn course(profile: &Profile, duty: &Duty) -> Line {
    let mut points = vec![(0.0, START_PERCENT)];
    let (mut begun_h, mut at_begin) = (0.0, START_PERCENT);
    for stretch in duty.stretches.iter().cycle() {
        if begun_h >= WEEK_H {
            break;
        }
        let conditions = Conditions::at_duty(profile, stretch.load_percent, stretch.speed_rpm);
        let after = |hours: f64| soot_percent_after(profile, &conditions, at_begin, hours);
        let mut hours = STEP_H;
        while hours <= stretch.hours {
            points.push((begun_h + hours, after(hours)));
            hours += STEP_H;
        }
        at_begin = after(stretch.hours);
        begun_h += stretch.hours;
    }
    Line { name: duty.name.to_owned(), points }
}

/// The soot load over a week of work on three duties.
pub(super) fn load_against_hours(profile: &Profile, unit: TemperatureUnit) -> (LinePlot, String) {
    let duties = duties(profile);
    let lines: Vec<Line> = duties.iter().map(|duty| course(profile, duty)).collect();
    let end = |line: &Line| format!("{} % on {}", line.points.last().map_or(0.0, |point| point.1.round()), line.name);
    let title = format!(
        "{}: from {} %, a week of work ends at {}, {} and {}.",
        profile.name,
        plain_number(START_PERCENT),
        end(&lines[0]),
        end(&lines[1]),
        end(&lines[2])
    );
    let stretch = |of: &Stretch| {
        let outlet = Conditions::at_duty(profile, of.load_percent, of.speed_rpm).outlet_c;
        let (load, speed) = (plain_number(of.load_percent), plain_number(of.speed_rpm));
        format!("{load} % load at {speed} rpm, outlet {}", shown(outlet, unit))
    };
    let [light, mixed, heavy] = &duties;
    let note = format!(
        "Light: {}. Mixed: an hour of that and an hour of {}, in turn. Heavy: {}. By work alone: the machine does not \
         clean itself here, and the outlet has its heat at once. Below {} the model is carried on beyond what was measured.",
        stretch(&light.stretches[0]),
        stretch(&mixed.stretches[1]),
        stretch(&heavy.stretches[0]),
        shown(MEASURED_FROM_C, unit)
    );
    (lesson::load_against_hours(&title, lines, &Gauge::of(profile, None)), note)
}

/// The soot load of a machine on the bench, with the switch as it is set.
pub(super) fn on_the_bench(profile: &Profile, bench: &Bench, unit: TemperatureUnit) -> (LinePlot, String) {
    let journey = bench.journey(profile);
    let outlet = journey.points.first().map_or(0.0, |point| point.situation.outlet_c);
    let note = format!(
        "{} % load at {} rpm, {}; outlet {} by work alone. Set it yourself on the bench.",
        plain_number(bench.load_percent),
        plain_number(bench.speed_rpm),
        if bench.inhibit_on { "the inhibit switch on all the time" } else { "the inhibit switch off" },
        shown(outlet, unit)
    );
    (course::soot(profile, &journey), note)
}
