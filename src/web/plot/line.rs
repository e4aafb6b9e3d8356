//! Line plots for lessons: ink lines with their names beside them, units on the axes, bands as faint stripes, and the numbers as a table.
//!
//! Never smooths, extends or invents a point: between two given points a line is straight, and outside them there is none.

use super::axis::Axis;
use super::labels::{spread, text_width};
use super::svg::{Anchor, Rect, Svg, escaped};
use crate::domain::units::plain_number;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// What a plot shows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LinePlot {
    /// What to see in it, as a sentence: "Below 350 °C next to nothing burns."
    pub title: String,
    /// The axis that runs to the right.
    pub across: Axis,
    /// The axis that runs upwards.
    pub up: Axis,
    /// Named stretches of an axis, drawn behind the lines.
    pub stripes: Vec<Stripe>,
    /// The lines, at most four.
    pub lines: Vec<Line>,
}

/// A named stretch of an axis.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stripe {
    /// Whether it is a stretch of the axis that runs to the right; otherwise of the one upwards.
    pub across: bool,
    /// Its lower end, in the axis' unit.
    pub from: f64,
    /// Its upper end.
    pub to: f64,
    /// Its name.
    pub name: String,
}

/// A line.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Its name, written at its end.
    pub name: String,
    /// Its points (across, up), in the axes' units, from left to right.
    pub points: Vec<(f64, f64)>,
}

impl Line {
    /// Height of the line at a place, straight between points; `None` outside of them.
    fn at(&self, across: f64) -> Option<f64> {
        let after = self.points.iter().position(|point| point.0 >= across - 1e-9)?;
        let (x1, y1) = self.points[after];
        if (x1 - across).abs() < 1e-9 {
            return Some(y1);
        }
        let (x0, y0) = *self.points.get(after.checked_sub(1)?)?;
        Some(y0 + (y1 - y0) * (across - x0) / (x1 - x0))
    }

    /// The runs of the line that lie within the axis upwards, cut exactly at its ends.
    fn visible_runs(&self, up: &Axis) -> Vec<Vec<(f64, f64)>> {
        let inside = |y: f64| y >= up.from && y <= up.to;
        let mut runs: Vec<Vec<(f64, f64)>> = vec![Vec::new()];
        for pair in self.points.windows(2) {
            let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
            let mut cuts: Vec<f64> = [up.from, up.to]
                .into_iter()
                .map(|edge| (edge - y0) / (y1 - y0))
                .filter(|share| *share > 0.0 && *share < 1.0)
                .collect();
            cuts.sort_by(f64::total_cmp);
            let stops: Vec<f64> = [0.0].into_iter().chain(cuts).chain([1.0]).collect();
            for part in stops.windows(2) {
                let point = |share: f64| (x0 + (x1 - x0) * share, y0 + (y1 - y0) * share);
                if !inside(point((part[0] + part[1]) / 2.0).1) {
                    if runs.last().is_some_and(|run| !run.is_empty()) {
                        runs.push(Vec::new());
                    }
                } else if let Some(run) = runs.last_mut() {
                    if run.is_empty() {
                        run.push(point(part[0]));
                    }
                    run.push(point(part[1]));
                }
            }
        }
        runs.retain(|run| run.len() > 1);
        runs
    }
}

/// Sizes of one rendering.
struct Size {
    class: &'static str,
    width: f64,
    height: f64,
    text: f64,
    /// Room at the right for the names of the lines.
    name_room: f64,
    /// Length of the piece of line that stands before its name, so that lines which end together can be told apart.
    sample: f64,
}

const WIDE: Size =
    Size { class: "drawing plot on-desk", width: 680.0, height: 340.0, text: 15.0, name_room: 190.0, sample: 30.0 };
const NARROW: Size =
    Size { class: "drawing plot on-phone", width: 300.0, height: 280.0, text: 13.0, name_room: 92.0, sample: 20.0 };

impl LinePlot {
    /// Two drawings, one for a desk and one for a phone (the stylesheet shows the one that fits), and the numbers as a table.
    #[must_use]
    pub fn draw(&self) -> String {
        format!("{}{}{}", self.draw_at(&WIDE), self.draw_at(&NARROW), self.numbers())
    }

    /// The drawing for a desk alone, for a file of its own.
    #[must_use]
    pub fn drawing(&self) -> String {
        self.draw_at(&WIDE)
    }

    /// What the plot says, in words with the numbers at the ticks.
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = format!("{} Across: {}. Up: {}.", self.title, self.across.caption(), self.up.caption());
        for line in &self.lines {
            let stops: Vec<String> = self
                .across
                .ticks()
                .into_iter()
                .filter_map(|tick| Some((tick, line.at(tick)?)))
                .map(|(tick, value)| format!("{} at {}", self.up.quantity(value), self.across.quantity(tick)))
                .collect();
            let _ = write!(words, " {}: {}.", line.name, stops.join(", "));
        }
        for stripe in &self.stripes {
            let axis = if stripe.across { &self.across } else { &self.up };
            let _ = write!(words, " {}: {} to {}.", stripe.name, plain_number(stripe.from), axis.quantity(stripe.to));
        }
        words
    }

    /// The numbers at the ticks, folded away under a line of words.
    fn numbers(&self) -> String {
        let mut html =
            String::from("<details class=\"numbers\"><summary>The numbers in this plot</summary><table><thead><tr>");
        let _ = write!(html, "<th scope=\"col\">{}</th>", escaped(&self.across.caption()));
        for line in &self.lines {
            let _ = write!(html, "<th scope=\"col\">{}</th>", escaped(&line.name));
        }
        html.push_str("</tr></thead><tbody>");
        for tick in self.across.ticks() {
            let _ = write!(html, "<tr><th scope=\"row\">{}</th>", plain_number(tick));
            for line in &self.lines {
                let value = line.at(tick).map_or_else(|| "-".to_owned(), |value| self.up.quantity(value));
                let _ = write!(html, "<td>{}</td>", escaped(&value));
            }
            html.push_str("</tr>");
        }
        html.push_str("</tbody></table></details>");
        html
    }

    fn draw_at(&self, size: &Size) -> String {
        let mut svg = Svg::default();
        let up_ticks = self.up.ticks();
        let numbers = up_ticks
            .iter()
            .map(|tick| text_width(&plain_number(*tick), size.text))
            .fold(0.0_f64, |widest, w| widest.max(w));
        let area = Rect {
            x: numbers + 10.0,
            y: size.text * 2.0,
            width: size.width - numbers - 10.0 - size.name_room,
            height: size.height - size.text * 5.2,
        };
        let place = |(across, up): (f64, f64)| {
            (area.x + area.width * self.across.share(across), area.y + area.height * (1.0 - self.up.share(up)))
        };
        self.stripes(&mut svg, size, area, &place);
        self.axes(&mut svg, size, area, &place);
        self.lines(&mut svg, size, area, &place);
        svg.finish(size.class, size.width, size.height, &self.words())
    }

    fn stripes(&self, svg: &mut Svg, size: &Size, area: Rect, place: &impl Fn((f64, f64)) -> (f64, f64)) {
        for (at, stripe) in self.stripes.iter().enumerate() {
            let (from, to) = if stripe.across {
                (place((stripe.from, self.up.to)), place((stripe.to, self.up.from)))
            } else {
                (place((self.across.from, stripe.to)), place((self.across.to, stripe.from)))
            };
            let part = Rect { x: from.0, y: from.1, width: to.0 - from.0, height: to.1 - from.1 };
            if part.width <= 0.0 || part.height <= 0.0 {
                continue;
            }
            svg.hatch("stripe", part, if at % 2 == 0 { 9.0 } else { 15.0 }, at % 2 == 0);
            let small = size.text * 0.9;
            let y = if stripe.across { area.y + small * (1.1 + 1.2 * (at % 3) as f64) } else { part.y + small * 1.1 };
            svg.text("stripe-name", (part.x + 5.0, y), Anchor::Start, small, &stripe.name);
        }
    }

    fn axes(&self, svg: &mut Svg, size: &Size, area: Rect, place: &impl Fn((f64, f64)) -> (f64, f64)) {
        let bottom = area.y + area.height;
        for tick in self.up.ticks() {
            let y = place((self.across.from, tick)).1;
            svg.line("grid", (area.x, y), (area.x + area.width, y));
            svg.text("number", (area.x - 6.0, y + size.text * 0.35), Anchor::End, size.text, &plain_number(tick));
        }
        let mut free_from = f64::NEG_INFINITY;
        for tick in self.across.ticks() {
            let x = place((tick, self.up.from)).0;
            svg.line("tick", (x, bottom), (x, bottom + 6.0));
            let text = plain_number(tick);
            let half = text_width(&text, size.text) / 2.0;
            if x - half >= free_from {
                svg.text("number", (x, bottom + 8.0 + size.text), Anchor::Middle, size.text, &text);
                free_from = x + half + 5.0;
            }
        }
        svg.line("axis", (area.x, bottom), (area.x + area.width, bottom));
        svg.line("axis", (area.x, area.y), (area.x, bottom));
        svg.text("axis-name", (0.0, size.text), Anchor::Start, size.text, &self.up.caption());
        let foot = (area.x, bottom + 14.0 + size.text * 2.2);
        svg.text("axis-name", foot, Anchor::Start, size.text, &self.across.caption());
    }

    /// The lines, and at the right their names behind a piece of each line, moved apart and tied to where the line ends.
    fn lines(&self, svg: &mut Svg, size: &Size, area: Rect, place: &impl Fn((f64, f64)) -> (f64, f64)) {
        let mut ends: Vec<(usize, (f64, f64), Vec<String>)> = Vec::new();
        for (at, line) in self.lines.iter().enumerate() {
            for run in line.visible_runs(&self.up) {
                let points: Vec<(f64, f64)> = run.into_iter().map(place).collect();
                svg.path(&format!("line line-{}", at % 4 + 1), &points, false);
                if let Some(last) = points.last() {
                    ends.retain(|end| end.0 != at);
                    ends.push((at, *last, wrapped(&line.name, size.text, size.name_room - 14.0 - size.sample)));
                }
            }
        }
        ends.sort_by(|a, b| a.1.1.total_cmp(&b.1.1));
        let leading = size.text * 1.2;
        let wanted: Vec<(f64, f64)> = ends.iter().map(|end| (end.1.1, end.2.len() as f64 * leading)).collect();
        let right = area.x + area.width;
        for (centre, (at, end, words)) in spread(&wanted, 0.0, area.y + area.height, 4.0).into_iter().zip(&ends) {
            svg.line("leader", *end, (right + 6.0, centre));
            let sample = &format!("line line-{}", at % 4 + 1);
            svg.path(sample, &[(right + 6.0, centre), (right + 6.0 + size.sample, centre)], false);
            let first = centre - (words.len() as f64 - 1.0) * leading / 2.0 + size.text * 0.35;
            for (row, word) in words.iter().enumerate() {
                svg.text(
                    "line-name",
                    (right + 10.0 + size.sample, first + row as f64 * leading),
                    Anchor::Start,
                    size.text,
                    word,
                );
            }
        }
    }
}

/// A name in rows no wider than there is room, broken between words.
fn wrapped(name: &str, size: f64, room: f64) -> Vec<String> {
    let mut rows: Vec<String> = Vec::new();
    for word in name.split_whitespace() {
        match rows.last_mut() {
            Some(row) if text_width(row, size) + text_width(word, size) + size * 0.58 <= room => {
                row.push(' ');
                row.push_str(word);
            }
            _ => rows.push(word.to_owned()),
        }
    }
    rows
}
