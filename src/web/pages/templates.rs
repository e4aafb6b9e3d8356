//! `/templates`: the scenario templates, their versions, previews of their questions, writing and publishing them.
//!
//! Trainers only: these pages show keys.

mod beliefs;
mod coverage;
mod edit;
mod grammar;
mod list;
mod one;
mod preview;

pub use beliefs::show as beliefs;
pub use coverage::show as coverage;
pub use edit::{again as edit, check, fresh as new, publish};
pub use grammar::show as grammar;
pub use list::show as list;
pub use one::show as one;

use crate::domain::document::Problem;
use serde::Serialize;

/// One choice of a select field.
#[derive(Clone, Serialize)]
struct Choice {
    value: String,
    text: String,
}

/// A problem as a row.
#[derive(Serialize)]
struct ProblemRow {
    file: String,
    line: Option<u32>,
    message: String,
}

impl From<&Problem> for ProblemRow {
    fn from(problem: &Problem) -> Self {
        let Problem { file, line, field, message } = problem;
        Self {
            file: file.clone(),
            line: (*line > 0).then_some(*line),
            message: if field == "file" { message.clone() } else { format!("{field}: {message}") },
        }
    }
}

/// What a level asks of people, in a word.
const fn level_words(level: u8) -> &'static str {
    match level {
        1 => "1, knows",
        2 => "2, applies",
        _ => "3, judges",
    }
}
