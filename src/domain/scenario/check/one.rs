//! What is wrong with one question that came out: its key, its options, its texts, its readings.
//!
//! Never asks how it was made.

use crate::scenario::generate::{Machine, near_edge};
use crate::scenario::question::{Choice, Key, Kind, Question};
use crate::scenario::template::Template;

/// What is wrong with a question that came out.
#[must_use]
pub fn faults(template: &Template, machine: &Machine, question: &Question) -> Vec<(u32, String)> {
    let mut faults = Vec::new();
    let mut fault = |message: String| faults.push((template.part_of(question).answer.line, message));
    let count = question.choices.len();
    match (&question.key, question.shown.kind) {
        (Key::Options(right), Kind::ChooseOne) if right.len() == 1 && right[0] < count => {}
        (Key::Options(right), Kind::ChooseSeveral | Kind::LampPanel)
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
        let same = |other: &&Choice| other.text.eq_ignore_ascii_case(&choice.text);
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
