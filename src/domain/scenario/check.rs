//! Proves a template over many seeds on every machine it fits, and reports everything that is not right.
//!
//! Checks what came out, not how it was made: a fault of the generator is found here too.

use super::generate::{Machine, NoQuestion, Seed, generate, near_edge};
use super::question::{Key, Kind, Question};
use super::template::Template;
use crate::document::Problem;
use crate::units::TemperatureUnit;

/// Most problems reported for one template and machine: the rest would be the same again.
const MOST: usize = 3;

/// Tries a template on each machine it fits, with `seeds` seeds each.
#[must_use]
pub fn check(file: &str, template: &Template, machines: &[Machine], seeds: u64) -> Vec<Problem> {
    let mut problems = Vec::new();
    let fitting: Vec<&Machine> = machines.iter().filter(|machine| template.fits(&machine.profile.id)).collect();
    if fitting.is_empty() {
        problems.push(Problem::new(file, 1, "machines", "no machine of the bank fits"));
    }
    for machine in fitting {
        problems.extend(check_machine(file, template, machine, seeds));
    }
    problems.sort();
    problems.dedup();
    problems
}

fn check_machine(file: &str, template: &Template, machine: &Machine, seeds: u64) -> Vec<Problem> {
    let mut problems: Vec<Problem> = Vec::new();
    let name = &machine.profile.id;
    for stream in 0..seeds {
        let secret = *b"checking a scenario of the bank.";
        let seed = Seed { secret, stream };
        let found = match generate(template, 1, machine, seed, TemperatureUnit::Celsius) {
            Ok(question) => faults(template, machine, &question),
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

/// What is wrong with a question that came out.
#[must_use]
pub fn faults(template: &Template, machine: &Machine, question: &Question) -> Vec<(u32, String)> {
    let mut faults = Vec::new();
    let mut fault = |message: String| faults.push((template.answer.line, message));
    let count = question.choices.len();
    match (&question.key, question.shown.kind) {
        (Key::Options(right), Kind::ChooseOne) if right.len() == 1 && right[0] < count => {}
        (Key::Options(right), Kind::ChooseSeveral)
            if !right.is_empty() && right.len() < count && right.iter().all(|place| *place < count) => {}
        (Key::Order(order), Kind::PutInOrder) => {
            let mut places = order.clone();
            places.sort_unstable();
            if !places.into_iter().eq(0..count) {
                fault("the key is not an order of the options".to_owned());
            }
        }
        (Key::Number { value, tolerance }, Kind::Number) => {
            if !value.value.is_finite() || tolerance.value <= 0.0 {
                fault(format!("the key {value} with tolerance {tolerance} is no number to ask for"));
            }
        }
        (key, kind) => fault(format!("{key:?} is not a key for the kind \"{}\"", kind.words())),
    }
    if question.shown.kind != Kind::Number && count < 3 {
        fault(format!("there are only {count} options"));
    }
    for (place, choice) in question.choices.iter().enumerate() {
        let same = |other: &&super::question::Choice| other.text.eq_ignore_ascii_case(&choice.text);
        if question.choices[..place].iter().any(|other| same(&other)) {
            fault(format!("the option \"{}\" stands there twice", choice.text));
        }
        if choice.why.trim().is_empty() {
            fault(format!("the option \"{}\" is not explained", choice.text));
        }
    }
    let shown = &question.shown;
    let texts = shown.story.iter().chain([&shown.prompt]).chain(&shown.options);
    for text in texts {
        if text.trim().is_empty() {
            fault("a text came out empty".to_owned());
        }
    }
    if question.reasons.iter().all(|reason| reason.trim().is_empty()) {
        fault("the right answer has no reason".to_owned());
    }
    if near_edge(template, &machine.profile, &question.situation) {
        fault("a reading is nearer to an edge than the guard distance".to_owned());
    }
    faults
}
