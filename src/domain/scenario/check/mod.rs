//! Proves a template over many seeds on every machine it fits, and reports everything that is not right.
//!
//! Checks what came out, not how it was made: a fault of the generator is found here too. Never says of a few questions
//! what only many can show.

mod one;
mod pool;
mod reach;
mod tally;
mod words;

pub use one::faults;
pub use tally::{ENOUGH, FEWEST_DIFFERENT, look};

use super::generate::{Machine, NoQuestion, Seed, generate_all};
use super::template::Template;
use crate::document::Problem;
use crate::units::TemperatureUnit;
use tally::Tally;

/// Most problems reported for one template and machine: the rest would be the same again.
const MOST: usize = 3;

/// The secret that scenarios are tried with. Sittings draw theirs at random.
pub(super) const SECRET: [u8; 32] = *b"checking a scenario of the bank.";

/// Tries a template on each machine it fits, with `seeds` seeds each.
#[must_use]
pub fn check(file: &str, template: &Template, machines: &[Machine], seeds: u64) -> Vec<Problem> {
    let mut problems = Vec::new();
    let fitting: Vec<&Machine> = machines.iter().filter(|machine| template.fits(&machine.profile.id)).collect();
    if fitting.is_empty() {
        problems.push(Problem::new(file, 1, "machines", "no machine of the bank fits"));
    }
    for line in template.parts.iter().filter_map(|part| part.beside.figures_in_show) {
        let message = "`show:` names readings only; write `gauge` and `lamps` into a line `figure:` of their own";
        problems.push(Problem::new(file, line, "show", message));
    }
    let mut tallies: Vec<Tally> = template.parts.iter().map(|_| Tally::default()).collect();
    for machine in fitting {
        let found = check_machine(file, template, machine, seeds, &mut tallies);
        let faults = pool::faults(template, machine, seeds);
        problems.extend(faults.into_iter().map(|(line, message)| Problem::new(file, line, "option", message)));
        // Where no question comes out, that is said already.
        let rare = if found.is_empty() { reach::rarely_held(template, machine, seeds) } else { Vec::new() };
        problems.extend(found);
        problems.extend(rare.into_iter().map(|(line, message)| Problem::new(file, line, "only if", message)));
    }
    if problems.is_empty() {
        let parts = tallies.iter().zip(&template.parts);
        let found = parts.flat_map(|(tally, part)| tally.findings(part, template.reading_grade));
        problems.extend(found.map(|(line, message)| Problem::new(file, line, "wording", message)));
    }
    problems.sort();
    problems.dedup();
    problems
}

fn check_machine(
    file: &str,
    template: &Template,
    machine: &Machine,
    seeds: u64,
    tallies: &mut [Tally],
) -> Vec<Problem> {
    let mut problems: Vec<Problem> = Vec::new();
    let name = &machine.profile.id;
    tallies.iter_mut().for_each(Tally::next_machine);
    for stream in 0..seeds {
        let seed = Seed { secret: SECRET, stream };
        let found = match generate_all(template, 1, machine, seed, TemperatureUnit::Celsius) {
            Ok(questions) => {
                let mut found = Vec::new();
                for (question, tally) in questions.iter().zip(tallies.iter_mut()) {
                    tally.count(template.part_of(question), question);
                    found.extend(faults(template, machine, question));
                    found.extend(words::faults(template, question));
                }
                found
            }
            Err(NoQuestion::Broken { line, message }) => vec![(line, format!("{message} (on {name}, seed {stream})"))],
            Err(other) => vec![(1, format!("{other} (on {name}, seed {stream})"))],
        };
        for (line, message) in found {
            let message = format!("{message} [{name}]");
            if !problems.iter().any(|known| known.line == line && same_fault(&known.message, &message)) {
                problems.push(Problem::new(file, line, "scenario", message));
            }
        }
        if problems.len() >= MOST {
            break;
        }
    }
    problems
}

/// Messages that differ only in their numbers, or in the machine and seed behind them, are the same fault.
fn same_fault(a: &str, b: &str) -> bool {
    let words = |message: &str| -> String {
        let what = message.split(" (on ").next().unwrap_or_default();
        what.chars().filter(|letter| !letter.is_ascii_digit() && *letter != '.').collect()
    };
    words(a) == words(b)
}
