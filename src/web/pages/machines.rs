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

/// A word of a file as people read it: `first_after` is "first after", and `no2`, a formula, is "NO2".
fn spaced(word: &str) -> String {
    let formula = |part: &str| part.contains(|c: char| c.is_ascii_digit());
    let words = word.split('_').map(|part| if formula(part) { part.to_uppercase() } else { part.to_owned() });
    words.collect::<Vec<_>>().join(" ")
}

/// The same as a heading: "First after".
fn heading(word: &str) -> String {
    capital(&spaced(word))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
