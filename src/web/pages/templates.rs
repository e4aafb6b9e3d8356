//! `/templates`: the scenario templates, their versions, previews of their questions, writing, reviewing and retiring them.
//!
//! Trainers only: these pages show keys.

mod begin;
mod beliefs;
mod changes;
mod coverage;
mod drafts;
mod edit;
mod findings;
mod grammar;
mod list;
mod one;
mod preview;
mod retire;
mod review;

pub use begin::{again as change, ask as new, fresh as begin};
pub use beliefs::show as beliefs;
pub use coverage::show as coverage;
pub use edit::{show as draft, submit as write};
pub use grammar::show as grammar;
pub use list::show as list;
pub use one::show as one;
pub use retire::{ask as retire_form, submit as retire};
pub use review::{decide, show as review};

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
    /// Line, and column where it is known; nothing when the whole file is meant.
    place: Option<String>,
    message: String,
}

impl From<&Problem> for ProblemRow {
    fn from(problem: &Problem) -> Self {
        let Problem { file, line, field, message, .. } = problem;
        Self {
            file: file.clone(),
            place: (*line > 0).then(|| problem.place().to_string()),
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
