//! A journey as a drawing in a file of its own: soot load over the hours with the bands behind it, and the outlet temperature
//! below.
//!
//! Computes nothing. Carries its own style, because no page's stylesheet is there.

use crate::domain::aftertreatment::journey::{Journey, Point};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::units::{Quantity, TemperatureUnit, Unit, plain_number};
use crate::web::plot::axis::Axis;
use crate::web::plot::line::{Line, LinePlot, Stripe};
use crate::web::plot::svg::escaped;

/// Size of one plot; that of a plot for a desk.
const WIDTH: u32 = 680;
const HEIGHT: u32 = 340;
const STYLE: &str = "svg{background:#fff}text{font-family:sans-serif;fill:#1d1d1b}.grid{stroke:#ccc}.axis{stroke:#1d1d1b;\
stroke-width:2}.tick{stroke:#1d1d1b}.stripe{fill:none;stroke:#777;stroke-opacity:.35}.stripe-name{fill:#555}\
.leader{stroke:#777}.line{fill:none;stroke:#1d1d1b;stroke-width:3;stroke-linejoin:round}";

/// The drawing.
pub(super) fn svg(profile: &Profile, journey: &Journey, unit: TemperatureUnit) -> String {
    let plots = [soot(profile, journey), outlet(journey, unit)];
    let mut parts = String::new();
    for (place, plot) in (0_u32..).zip(&plots) {
        let drawing = plot.drawing();
        let inside = drawing.strip_prefix("<svg ").unwrap_or(&drawing);
        parts += &format!("<svg y=\"{}\" width=\"{WIDTH}\" height=\"{HEIGHT}\" {inside}\n", place * HEIGHT);
    }
    let height = 2 * HEIGHT;
    let title = escaped(&format!("{} {}", plots[0].title, plots[1].title));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {WIDTH} {height}\" width=\"{WIDTH}\" height=\"{height}\" \
         role=\"img\" aria-label=\"{title}\">\n<title>{title}</title>\n<style>{STYLE}</style>\n{parts}</svg>\n"
    )
}

/// Soot load over the hours, with the bands that ask for something behind it.
fn soot(profile: &Profile, journey: &Journey) -> LinePlot {
    let line = line("Soot load", journey, |point| point.situation.soot_percent);
    let most = line.points.iter().map(|point| point.1).fold(profile.active.from_percent, f64::max);
    let up = Axis::covering("Soot load", "%", 0.0, most * 1.05);
    let calls = profile.bands.iter().skip(1).filter(|band| !band.lamps.is_empty() && band.from_percent < up.to);
    let stripes: Vec<Stripe> = calls
        .map(|band| Stripe {
            across: false,
            from: band.from_percent,
            to: band.to_percent.min(up.to),
            name: band.name.clone(),
        })
        .collect();
    let [from, to] = ends(&line).map(|percent| plain_number((percent * 10.0).round() / 10.0));
    let title = format!("Soot goes from {from} % to {to} %.");
    LinePlot { title, across: hours(journey), up, stripes, lines: vec![line] }
}

/// Outlet temperature over the hours, in the reader's scale.
fn outlet(journey: &Journey, unit: TemperatureUnit) -> LinePlot {
    let shown = |celsius: f64| Quantity::new(celsius, Unit::Celsius).for_reader(unit);
    let line = line("Outlet temperature", journey, |point| shown(point.situation.outlet_c).value);
    let heights = || line.points.iter().map(|point| point.1);
    let (low, high) = (heights().fold(0.0, f64::min), heights().fold(0.0, f64::max));
    let symbol = shown(0.0).unit.symbol();
    let [from, to] = ends(&line).map(|degrees| plain_number(degrees.round()));
    let title = format!("The outlet goes from {from} {symbol} to {to} {symbol}.");
    let up = Axis::covering("Outlet temperature", symbol, low, high);
    LinePlot { title, across: hours(journey), up, stripes: Vec::new(), lines: vec![line] }
}

fn hours(journey: &Journey) -> Axis {
    Axis::covering("Time", "h", 0.0, journey.end.seconds / 3600.0)
}

fn line(name: &str, journey: &Journey, of: impl Fn(&Point) -> f64) -> Line {
    let points = journey.points.iter().map(|point| (point.seconds / 3600.0, of(point))).collect();
    Line { name: name.to_owned(), points }
}

fn ends(line: &Line) -> [f64; 2] {
    let height = |point: Option<&(f64, f64)>| point.map_or(0.0, |point| point.1);
    [height(line.points.first()), height(line.points.last())]
}
