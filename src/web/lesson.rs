//! A lesson as a page shows it: safe text, with the model's own drawings where the lesson asks for them.
//!
//! Never lets markup of the lesson through that is not plain text structure, and never draws a number that the model
//! has not given. A fence that cannot be drawn becomes a plain note; [`problems`] says why.

mod fence;
mod markdown;
mod plots;

use super::plot::gauge::Gauge;
use super::plot::line::LinePlot;
use super::question_card::LampShown;
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::bank::Bank;
use crate::domain::document::Problem;
use crate::domain::scenario::question::CautionWords;
use crate::domain::units::TemperatureUnit;
use markdown::Piece;
use serde::Serialize;

/// A stretch of a lesson.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "part", rename_all = "snake_case")]
pub enum Part {
    /// Text: clean HTML.
    Text {
        /// What the cleaner let through.
        html: String,
    },
    /// A plot of the model's numbers.
    Plot {
        /// The plot.
        plot: LinePlot,
        /// What it was computed for, and how far it holds.
        note: String,
    },
    /// A machine's bands.
    Bands {
        /// The machine.
        machine: String,
        /// The bands on the gauge, without a reading.
        gauge: Gauge,
        /// The bands in words.
        bands: Vec<BandRow>,
    },
    /// A machine's lamps.
    Lamps {
        /// The machine.
        machine: String,
        /// Each lamp with what it means.
        lamps: Vec<LampRow>,
    },
    /// A machine's parked regeneration, step by step.
    Procedure {
        /// The machine.
        machine: String,
        /// The steps.
        steps: Vec<StepRow>,
    },
    /// Cautions, worst first.
    Cautions {
        /// The cautions.
        all: Vec<CautionWords>,
    },
    /// Something belongs here that cannot be drawn.
    Missing,
}

/// A band in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BandRow {
    name: String,
    load: String,
    lamps: String,
    ways: String,
    power: String,
}

/// A lamp with what it means.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LampRow {
    lamps: Vec<LampShown>,
    means: String,
}

/// A step of a procedure.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StepRow {
    action: String,
    reason: String,
    critical: bool,
}

/// A lesson's text in parts, in the reader's scale.
#[must_use]
pub fn parts(text: &str, bank: &Bank, unit: TemperatureUnit) -> Vec<Part> {
    let pieces = markdown::pieces(text, unit).into_iter();
    let part = |piece| match piece {
        Piece::Text(html) => Part::Text { html },
        Piece::Fence { word, body, .. } => fence::draw(&word, "", &body, bank, unit).unwrap_or(Part::Missing),
        Piece::Misplaced { .. } => Part::Missing,
    };
    pieces.map(part).collect()
}

/// Everything about a machine that a lesson can draw.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OfMachine {
    bands: Part,
    lamps: Part,
    procedure: Part,
    cautions: Part,
    plots: Vec<Part>,
}

impl OfMachine {
    /// All of it for one machine, in the reader's scale.
    #[must_use]
    pub fn new(profile: &Profile, unit: TemperatureUnit) -> Self {
        let plots = [
            plots::outlet_against_load(profile, unit),
            plots::burnt_against_temperature(profile, unit),
            plots::load_against_hours(profile, unit),
        ];
        Self {
            bands: fence::bands(profile),
            lamps: fence::lamps(profile),
            procedure: fence::procedure(profile),
            cautions: fence::worst_first(profile.cautions.iter(), unit),
            plots: plots.into_iter().map(|(plot, note)| Part::Plot { plot, note }).collect(),
        }
    }
}

/// What keeps the fences of a lesson from being drawn, with the lines of its file. `text` is the whole file.
#[must_use]
pub fn problems(file: &str, text: &str, bank: &Bank) -> Vec<Problem> {
    let of = |piece| match piece {
        Piece::Text(_) => Vec::new(),
        Piece::Misplaced { word, line } => {
            vec![Problem::new(
                file,
                line,
                word,
                "this stands inside a list, a quotation or a table; put it on its own, without indent",
            )]
        }
        Piece::Fence { word, body, line } => {
            let found = fence::draw(&word, file, &body, bank, TemperatureUnit::Celsius).err().unwrap_or_default();
            // The body begins on the line after the fence's own.
            found.into_iter().map(|problem| Problem { line: problem.line.max(1) + line, ..problem }).collect()
        }
    };
    markdown::pieces(text, TemperatureUnit::Celsius).into_iter().flat_map(of).collect()
}
