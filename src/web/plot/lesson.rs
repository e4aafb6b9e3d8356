//! The two plots that the lessons stand on: what burns at which temperature, and where a duty takes the soot load.
//!
//! Takes the numbers and the title from whoever has asked the filter model; never computes or claims anything by itself.

use super::axis::Axis;
use super::gauge::{Gauge, Tone};
use super::line::{Line, LinePlot, Stripe};
use crate::domain::units::{Quantity, TemperatureUnit, Unit};

/// Share of soot burnt in one hour against outlet temperature. Points are (deg C, percent); the axis is in the reader's unit.
#[must_use]
pub fn burnt_in_one_hour(title: &str, curves: Vec<Line>, unit: TemperatureUnit) -> LinePlot {
    let shown = |celsius: f64| Quantity::new(celsius, Unit::Celsius).for_reader(unit);
    let symbol = shown(0.0).unit.symbol();
    let curves: Vec<Line> = curves
        .into_iter()
        .map(|curve| Line {
            points: curve.points.iter().map(|(c, share)| (shown(*c).value, *share)).collect(),
            ..curve
        })
        .collect();
    let (from, to) = ends(&curves);
    LinePlot {
        title: title.to_owned(),
        across: Axis::covering("Outlet temperature", symbol, from, to),
        up: Axis::covering("Soot burnt in one hour", "%", 0.0, 100.0),
        stripes: Vec::new(),
        lines: curves,
    }
}

/// Soot load against hours on several duties. Points are (hours, percent); the bands that ask for something are striped as on the gauge.
#[must_use]
pub fn load_against_hours(title: &str, duties: Vec<Line>, bands: &Gauge) -> LinePlot {
    let (from, to) = ends(&duties);
    let stripes =
        bands.bands.iter().enumerate().filter(|(_, band)| band.tone != Tone::Normal).map(|(at, band)| Stripe {
            across: false,
            from: band.from_percent,
            to: bands.bands.get(at + 1).map_or(bands.up_to_percent, |next| next.from_percent),
            name: band.name.clone(),
        });
    LinePlot {
        title: title.to_owned(),
        across: Axis::covering("Hours at work", "h", from, to),
        up: Axis::covering("Soot load", "%", 0.0, bands.up_to_percent),
        stripes: stripes.collect(),
        lines: duties,
    }
}

/// Outlet temperature against hours. Points are (hours, deg C); the axis is in the reader's unit.
#[must_use]
pub fn outlet_against_hours(title: &str, courses: Vec<Line>, unit: TemperatureUnit) -> LinePlot {
    let shown = |celsius: f64| Quantity::new(celsius, Unit::Celsius).for_reader(unit);
    let symbol = shown(0.0).unit.symbol();
    let heights = || courses.iter().flat_map(|course| course.points.iter().map(|point| shown(point.1).value));
    let highest = heights().fold(shown(300.0).value, f64::max);
    let (from, to) = ends(&courses);
    let in_scale = |course: &Line| Line {
        name: course.name.clone(),
        points: course.points.iter().map(|(hours, celsius)| (*hours, shown(*celsius).value)).collect(),
    };
    LinePlot {
        title: title.to_owned(),
        across: Axis::covering("Hours at work", "h", from, to),
        up: Axis::covering("Outlet temperature", symbol, 0.0, highest),
        stripes: Vec::new(),
        lines: courses.iter().map(in_scale).collect(),
    }
}

/// Smallest and greatest place across of all lines.
fn ends(lines: &[Line]) -> (f64, f64) {
    let places = || lines.iter().flat_map(|line| line.points.iter().map(|point| point.0));
    (places().reduce(f64::min).unwrap_or(0.0), places().reduce(f64::max).unwrap_or(1.0))
}
