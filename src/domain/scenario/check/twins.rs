//! Scenarios of a bank that differ in nothing but their numbers.
//!
//! Reads what came out of them, not their files: two texts written differently can read alike.

use super::SECRET;
use crate::document::Problem;
use crate::scenario::generate::{Machine, Seed, generate};
use crate::scenario::template::Template;
use crate::units::TemperatureUnit;
use std::collections::HashMap;

/// Questions of each scenario that are compared; chosen by us: drawn words make a few different texts.
const QUESTIONS: u64 = 25;

/// Reports each scenario whose questions read like another one's apart from their numbers, at its file.
#[must_use]
pub fn twins(templates: &[(&str, &Template)], machines: &[Machine]) -> Vec<Problem> {
    let mut known: HashMap<Vec<String>, &str> = HashMap::new();
    let mut problems: Vec<Problem> = Vec::new();
    for (file, template) in templates {
        let Some(machine) = machines.iter().find(|machine| template.fits(&machine.profile.id)) else { continue };
        let made = (0..QUESTIONS).filter_map(|stream| {
            let seed = Seed { secret: SECRET, stream };
            generate(template, 1, machine, seed, TemperatureUnit::Celsius).ok()
        });
        for question in made {
            let mut words = question.shown.words();
            let mut options = question.shown.options;
            options.sort_unstable();
            words.extend(options);
            let first = *known.entry(words).or_insert(&template.id);
            if first != template.id && !problems.iter().any(|problem| problem.file == *file) {
                let message = format!(
                    "its questions read like those of \"{first}\" apart from their numbers: make one scenario of the two"
                );
                problems.push(Problem::new(*file, 1, "story", message));
            }
        }
    }
    problems
}
