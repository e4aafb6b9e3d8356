//! The soot gauge: one bar with the machine's bands, their edges in numbers, and the reading as a pointer.
//!
//! The same drawing in questions, lessons and on the machine sheet. Never judges a reading; it only says in which band it lies.

use super::labels::{Loose, spread, spread_in_rows, text_width};
use super::svg::{Anchor, Rect, Svg};
use crate::domain::aftertreatment::lamp::Lamp;
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::units::plain_number;
use serde::{Deserialize, Serialize};

/// What the gauge shows. All loads in percent.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Gauge {
    /// What is measured, such as "Soot load".
    pub label: String,
    /// The reading; without one the gauge shows the bands only.
    pub reading_percent: Option<f64>,
    /// Right end of the scale. Readings beyond it are drawn at the end, with their number.
    pub up_to_percent: f64,
    /// The bands, lowest first.
    pub bands: Vec<GaugeBand>,
}

/// One stretch of the gauge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GaugeBand {
    /// What people call it.
    pub name: String,
    /// Lower end in percent; the upper end is where the next band begins.
    pub from_percent: f64,
    /// How it is hatched.
    pub tone: Tone,
}

/// What a band asks of the operator, as its lamps say it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tone {
    /// No lamp of attention.
    Normal,
    /// An amber lamp.
    Attention,
    /// The red stop lamp.
    Stop,
}

impl Tone {
    const fn class(self) -> &'static str {
        match self {
            Self::Normal => "tone-normal",
            Self::Attention => "tone-attention",
            Self::Stop => "tone-stop",
        }
    }
}

/// Sizes of one rendering of the gauge.
struct Size {
    class: &'static str,
    width: f64,
    text: f64,
}

const WIDE: Size = Size { class: "drawing gauge on-desk", width: 680.0, text: 15.0 };
const NARROW: Size = Size { class: "drawing gauge on-phone", width: 300.0, text: 14.0 };
const BAR_TOP: f64 = 38.0;
const BAR_HEIGHT: f64 = 26.0;

impl Gauge {
    /// The gauge of a machine, with its bands and the lamps they light.
    #[must_use]
    pub fn of(profile: &Profile, reading_percent: Option<f64>) -> Self {
        let last_edge = profile.bands.last().map_or(100.0, |band| band.from_percent).max(profile.stop_above_percent);
        let bands = profile.bands.iter().map(|band| GaugeBand {
            name: band.name.clone(),
            from_percent: band.from_percent,
            tone: if band.lamps.iter().any(Lamp::is_red) {
                Tone::Stop
            } else if band.lamps.is_empty() {
                Tone::Normal
            } else {
                Tone::Attention
            },
        });
        Self {
            label: "Soot load".to_owned(),
            reading_percent,
            up_to_percent: Self::end_after(last_edge),
            bands: bands.collect(),
        }
    }

    /// Right end of a scale whose last edge is at a load in percent: one more labelled step, so that the last band can be seen.
    #[must_use]
    pub fn end_after(last_edge_percent: f64) -> f64 {
        ((last_edge_percent + 10.0) / 20.0).ceil() * 20.0
    }

    /// Two drawings, one for a desk and one for a phone; the stylesheet shows the one that fits.
    #[must_use]
    pub fn draw(&self) -> String {
        self.draw_at(&WIDE) + &self.draw_at(&NARROW)
    }

    /// What the drawing says, in words with every number.
    #[must_use]
    pub fn words(&self) -> String {
        let mut words = match self.reading_percent {
            Some(reading) => format!("{} {} %, {}.", self.label, plain_number(reading), self.band_name(reading)),
            None => format!("{}, without a reading.", self.label),
        };
        for (at, band) in self.bands.iter().enumerate() {
            let from = plain_number(band.from_percent);
            let line = match self.bands.get(at + 1) {
                Some(next) => format!(" {}: {from} to {} %.", band.name, plain_number(next.from_percent)),
                None => format!(" {}: from {from} %.", band.name),
            };
            words.push_str(&line);
        }
        words
    }

    fn band_at(&self, percent: f64) -> Option<usize> {
        self.bands.iter().rposition(|band| band.from_percent <= percent)
    }

    fn band_name(&self, percent: f64) -> &str {
        self.band_at(percent).map_or("below every band", |at| self.bands[at].name.as_str())
    }

    fn draw_at(&self, size: &Size) -> String {
        let (low, high) = (8.0, size.width - 8.0);
        let x = |percent: f64| low + (high - low) * (percent / self.up_to_percent.max(1.0)).clamp(0.0, 1.0);
        let mut svg = Svg::default();
        self.bars(&mut svg, &x);
        self.edges(&mut svg, size, (low, high), &x);
        let height = self.names(&mut svg, size, (low, high), &x);
        if let Some(reading) = self.reading_percent {
            pointer(&mut svg, size, x(reading), &format!("{} %", plain_number(reading)));
        }
        svg.finish(size.class, size.width, height, &self.words())
    }

    fn bars(&self, svg: &mut Svg, x: &impl Fn(f64) -> f64) {
        for (at, band) in self.bands.iter().enumerate() {
            let from = x(band.from_percent);
            let to = x(self.bands.get(at + 1).map_or(self.up_to_percent, |next| next.from_percent));
            let area = Rect { x: from, y: BAR_TOP, width: (to - from).max(0.0), height: BAR_HEIGHT };
            svg.rect(&format!("ground {}", band.tone.class()), area);
            let hatching = format!("hatch {}", band.tone.class());
            match band.tone {
                Tone::Normal => svg.hatch(&hatching, area, 14.0, true),
                Tone::Attention => svg.hatch(&hatching, area, 8.0, true),
                Tone::Stop => {
                    svg.hatch(&hatching, area, 7.0, true);
                    svg.hatch(&hatching, area, 7.0, false);
                }
            }
        }
        let whole = Rect { x: x(0.0), y: BAR_TOP, width: x(self.up_to_percent) - x(0.0), height: BAR_HEIGHT };
        svg.rect("outline", whole);
    }

    /// The numbers at the edges, moved apart and tied to their ticks by a line.
    fn edges(&self, svg: &mut Svg, size: &Size, (low, high): (f64, f64), x: &impl Fn(f64) -> f64) {
        let mut edges: Vec<f64> = self.bands.iter().map(|band| band.from_percent).collect();
        edges.push(self.up_to_percent);
        let texts: Vec<String> = edges.iter().map(|edge| plain_number(*edge)).collect();
        let wanted: Vec<(f64, f64)> =
            edges.iter().zip(&texts).map(|(edge, text)| (x(*edge), text_width(text, size.text))).collect();
        let bottom = BAR_TOP + BAR_HEIGHT;
        for ((centre, (at, _)), text) in spread(&wanted, low - 6.0, high + 6.0, 5.0).iter().zip(&wanted).zip(&texts) {
            svg.line("tick", (*at, BAR_TOP), (*at, bottom + 4.0));
            svg.line("leader", (*at, bottom + 4.0), (*centre, bottom + 12.0));
            svg.text("number", (*centre, bottom + 14.0 + size.text * 0.8), Anchor::Middle, size.text, text);
        }
    }

    /// The band names in as many rows as they need. Gives the height of the whole drawing.
    fn names(&self, svg: &mut Svg, size: &Size, (low, high): (f64, f64), x: &impl Fn(f64) -> f64) -> f64 {
        let wanted: Vec<Loose> = self
            .bands
            .iter()
            .enumerate()
            .map(|(at, band)| {
                let to = x(self.bands.get(at + 1).map_or(self.up_to_percent, |next| next.from_percent));
                let from = x(band.from_percent);
                // A name may stray by a third of its band, or by its own height where the band is narrower than that.
                ((from + to) / 2.0, text_width(&band.name, size.text), ((to - from) / 3.0).max(size.text))
            })
            .collect();
        let top = BAR_TOP + BAR_HEIGHT + 22.0 + size.text;
        let here = self.reading_percent.and_then(|reading| self.band_at(reading));
        let mut rows = 1;
        let placed = spread_in_rows(&wanted, low - 6.0, high + 6.0, 10.0);
        for (at, ((centre, row), band)) in placed.iter().zip(&self.bands).enumerate() {
            let class = if here == Some(at) { "name here" } else { "name" };
            let y = top + size.text * (0.8 + 1.35 * *row as f64);
            svg.text(class, (*centre, y), Anchor::Middle, size.text, &band.name);
            rows = rows.max(row + 1);
        }
        top + size.text * 1.35 * rows as f64 + 2.0
    }
}

/// The reading: a triangle on the bar and its number above it.
fn pointer(svg: &mut Svg, size: &Size, x: f64, text: &str) {
    let half = text_width(text, size.text * 1.35) / 2.0;
    let text_x = x.clamp(half, (size.width - half).max(half));
    svg.text("reading", (text_x, 18.0), Anchor::Middle, size.text * 1.35, text);
    svg.path("pointer", &[(x - 8.0, 23.0), (x + 8.0, 23.0), (x, BAR_TOP + 3.0)], true);
    svg.line("needle", (x, BAR_TOP), (x, BAR_TOP + BAR_HEIGHT));
}
