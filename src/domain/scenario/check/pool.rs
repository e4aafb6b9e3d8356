//! What is wrong with a pool of written options as a whole: two that say the same, and one whose length gives it away
//! whatever it is shown beside.
//!
//! Never looks at the questions that came out: of a large pool, two options may stand beside each other in one of hundreds.

use super::SECRET;
use crate::scenario::asks::Miss;
use crate::scenario::draw::Draws;
use crate::scenario::generate::{Machine, drawn};
use crate::scenario::template::{Ask, Template};
use crate::scenario::wording::{far_in_length, say_the_same};
use crate::units::TemperatureUnit;

/// Moments in which the options are read beside each other; chosen by us: drawn values change their words, not more.
const MOMENTS: u64 = 40;

/// What is wrong with a template's pool on a machine, with the lines of the options.
pub(super) fn faults(template: &Template, machine: &Machine, seeds: u64) -> Vec<(u32, String)> {
    let mut found: Vec<(u32, String)> = Vec::new();
    if template.parts.iter().all(|part| part.answer.pool.is_none()) {
        return found;
    }
    for stream in 0..seeds.min(MOMENTS) {
        let moments = match drawn(template, machine, &mut Draws::new(SECRET, stream)) {
            Ok(moments) => moments,
            // A broken template is reported where its questions are made.
            Err((_, Miss::Broken(..))) => return found,
            Err((_, Miss::Again(_))) => continue,
        };
        for (part, moment) in template.parts.iter().zip(&moments).filter(|(part, _)| part.answer.pool.is_some()) {
            let told = part.answer.written.iter().map(|option| {
                let text = moment.scope.fill(&option.text, TemperatureUnit::Celsius).unwrap_or_default();
                (option.line, text)
            });
            for (line, message) in among(part.answer.ask, &told.collect::<Vec<_>>()) {
                if !found.iter().any(|(known, _)| *known == line) {
                    found.push((line, message));
                }
            }
        }
    }
    found
}

fn among(ask: Ask, options: &[(u32, String)]) -> Vec<(u32, String)> {
    let mut found = Vec::new();
    for (place, (line, text)) in options.iter().enumerate() {
        if let Some((_, other)) = options[..place].iter().find(|(_, other)| say_the_same(other, text)) {
            found.push((*line, format!("\"{text}\" says the same as \"{other}\": write another option")));
        }
    }
    // The steps of an order are not picked, so their length tells nothing.
    if ask == Ask::Statements {
        let mut lengths: Vec<usize> = options.iter().map(|(_, text)| text.chars().count()).collect();
        lengths.sort_unstable();
        let usual = lengths.get(lengths.len() / 2).copied().unwrap_or_default();
        let far = options.iter().filter(|(_, text)| far_in_length(text.chars().count(), usual));
        found.extend(far.map(|(line, text)| {
            let message = format!("\"{text}\" has {} letters where the others of the pool have about {usual}: make the options alike in length", text.chars().count());
            (*line, message)
        }));
    }
    found
}
