//! The two plots of a journey, of one that was made or of the shift of a question: soot load and outlet temperature against time.
//!
//! Every point and every number in a title is one of the journey's own. The plots of a question never name what a soot load asks for.

use super::axis::Axis;
use super::gauge::Gauge;
use super::lesson::{load_against_hours, outlet_against_hours};
use super::line::{Line, LinePlot};
use crate::domain::aftertreatment::journey::{Journey, Point};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::scenario::course::{Course, CoursePoint};
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

/// Longer shifts than this count in hours.
const MINUTES_UP_TO_S: u32 = 2 * 3600;
/// Room above and below a question's lines, in percent and in degrees; chosen by us: a steady reading must look steady.
const ROOM_PERCENT: f64 = 5.0;
const ROOM_DEGREES: f64 = 25.0;

/// The two plots of a question's shift, up to the moment that is asked about. Without bands: what a soot load asks for may
/// be what is asked.
#[must_use]
pub fn before_the_moment(course: &Course) -> [LinePlot; 2] {
    let degree = course.outlet_unit().symbol();
    let soot = ("soot load", "Soot load", "%", ROOM_PERCENT);
    let outlet = ("outlet", "Outlet temperature", degree, ROOM_DEGREES);
    [before(course, soot, |point| point.soot_percent), before(course, outlet, |point| point.outlet)]
}

/// One of them: `what` is the line's name, the axis' label, its unit and the room beside the line.
fn before(course: &Course, what: (&str, &str, &str, f64), up: impl Fn(&CoursePoint) -> f64) -> LinePlot {
    let (name, label, unit, room) = what;
    let whole = course.points.last().map_or(0, |last| last.seconds);
    let (time, part) = if whole > MINUTES_UP_TO_S { ("h", 3600.0) } else { ("min", 60.0) };
    let across = |seconds: u32| f64::from(seconds) / part;
    let points: Vec<(f64, f64)> = course.points.iter().map(|point| (across(point.seconds), up(point))).collect();
    let heights = || points.iter().map(|point| point.1);
    let (lowest, highest) = (heights().fold(f64::INFINITY, f64::min), heights().fold(f64::NEG_INFINITY, f64::max));
    let at = |place: Option<&(f64, f64)>| format!("{} {unit}", plain_number(place.map_or(0.0, |point| point.1)));
    let title = format!(
        "{label} over the {} {time} up to this moment: from {} to {}.",
        plain_number((across(whole) * 10.0).round() / 10.0),
        at(points.first()),
        at(points.last())
    );
    LinePlot {
        title,
        across: Axis::covering("Time into the shift", time, 0.0, across(whole)),
        up: Axis::covering(label, unit, (lowest - room).max(0.0), highest + room),
        stripes: Vec::new(),
        lines: vec![Line { name: name.to_owned(), points }],
    }
}
