//! The two plots of a journey: the soot load and the outlet temperature against hours.
//!
//! Takes a journey that was made; every point and every number in a title is one of its own.

use super::gauge::Gauge;
use super::lesson::{load_against_hours, outlet_against_hours};
use super::line::{Line, LinePlot};
use crate::domain::aftertreatment::journey::{Journey, Point};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::units::{Quantity, TemperatureUnit, Unit, plain_number};

fn line(name: &str, journey: &Journey, up: impl Fn(&Point) -> f64) -> Line {
    let points = journey.points.iter().map(|point| (point.seconds / 3600.0, up(point)));
    Line { name: name.to_owned(), points: points.collect() }
}

/// The soot load, with the machine's bands behind it.
#[must_use]
pub fn soot(profile: &Profile, journey: &Journey) -> LinePlot {
    let from = journey.points.first().unwrap_or(&journey.end).situation.soot_percent;
    let title = format!(
        "{}: from {} the soot load goes to {} in {} h.",
        profile.name,
        percent(from),
        percent(journey.end.situation.soot_percent),
        plain_number(journey.end.seconds / 3600.0)
    );
    let course = line("soot load", journey, |point| point.situation.soot_percent);
    load_against_hours(&title, vec![course], &Gauge::of(profile, None))
}

/// The outlet temperature, in the reader's scale.
#[must_use]
pub fn outlet(profile: &Profile, journey: &Journey, unit: TemperatureUnit) -> LinePlot {
    let outlets = || journey.points.iter().map(|point| point.situation.outlet_c);
    let (lowest, highest) = (outlets().fold(f64::INFINITY, f64::min), outlets().fold(0.0, f64::max));
    let title = if highest - lowest < 1.0 {
        format!("{}: the outlet stays at {}.", profile.name, degrees(highest, unit))
    } else {
        format!("{}: the outlet is between {} and {}.", profile.name, degrees(lowest, unit), degrees(highest, unit))
    };
    outlet_against_hours(&title, vec![line("outlet", journey, |point| point.situation.outlet_c)], unit)
}

/// A share to one decimal: more than that no gauge shows.
#[must_use]
pub fn percent(value: f64) -> String {
    format!("{} %", plain_number((value * 10.0).round() / 10.0))
}

/// A temperature in whole degrees of the reader's scale.
#[must_use]
pub fn degrees(celsius: f64, unit: TemperatureUnit) -> String {
    let shown = Quantity::new(celsius, Unit::Celsius).for_reader(unit);
    Quantity::new(shown.value.round(), shown.unit).to_string()
}
