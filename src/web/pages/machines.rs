//! `/machines`: the machine profiles as sheets for everyone, their versions, and for trainers writing and publishing them.
//!
//! Never shows a question's key to anyone but a trainer, and never enumerates what a profile may hold: what is in the
//! file is shown.

mod change;
mod edit;
mod list;
mod numbers;
mod one;
mod sections;

pub use edit::{again as edit, check, fresh as new, publish};
pub use list::show as list;
pub use one::show as one;

use serde::Serialize;

/// A label with its value.
#[derive(Debug, PartialEq, Eq, Serialize)]
struct Fact {
    label: String,
    value: String,
}

/// A word of a file as people read it: `first_after` is "first after".
fn spaced(word: &str) -> String {
    word.replace('_', " ")
}

/// The same as a heading: "First after".
fn heading(word: &str) -> String {
    let spaced = spaced(word);
    let mut letters = spaced.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
