//! A question after its answer: what is right and why, what was answered, and what somebody who answers so believes.
//!
//! Holds the key. Never made before the answer is in: of a practice question once it is graded, of an examination once
//! it is handed in.

use crate::domain::scenario::grade::{Answer, grade};
use crate::domain::scenario::misconception;
use crate::domain::scenario::question::{CautionWords, Key, Question};
use crate::domain::units::{Quantity, Unit, plain_number};
use serde::Serialize;

/// An option with its verdict, as `answers.explained` takes it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OptionExplained {
    text: String,
    chosen: bool,
    right: bool,
    why: String,
}

/// A step at its right place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StepExplained {
    place: usize,
    /// The place it was given; nothing when no order was given.
    given: Option<usize>,
    text: String,
    why: String,
}

/// The number beside the model's.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NumberExplained {
    typed: String,
    value: String,
    tolerance: String,
    /// What is wrong with the typed number, when a misconception gives just that.
    meaning: Option<String>,
}

/// A wrong belief that the answer shows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Belief {
    name: String,
    believes: String,
    teach: String,
}

/// A question after its answer, as `question.explained` takes it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Explained {
    /// Whether the answer is right.
    pub correct: bool,
    /// What an answer earned that is right in part: "two thirds" as "0.67 of this question".
    earned: Option<String>,
    /// Whether any answer was given.
    answered: bool,
    options: Vec<OptionExplained>,
    steps: Vec<StepExplained>,
    number: Option<NumberExplained>,
    reasons: Vec<String>,
    beliefs: Vec<Belief>,
    cautions: Vec<CautionWords>,
}

impl Explained {
    /// Explains a question to somebody who answered so, or not at all.
    #[must_use]
    pub fn new(question: &Question, answer: Option<&Answer>) -> Self {
        let graded = answer.and_then(|answer| grade(question, answer).ok());
        let shown = graded.iter().flat_map(|graded| graded.misconceptions.iter());
        let beliefs = shown.filter_map(|id| misconception::find(id)).map(|found| Belief {
            name: found.name.to_owned(),
            believes: found.believes.to_owned(),
            teach: found.teach.to_owned(),
        });
        Self {
            correct: graded.as_ref().is_some_and(|graded| graded.correct),
            earned: graded
                .as_ref()
                .filter(|_| question.shown.by_part)
                .map(|graded| plain_number(graded.share.points())),
            answered: answer.is_some(),
            options: options(question, answer),
            steps: steps(question, answer),
            number: number(question, answer),
            reasons: question.reasons.clone(),
            beliefs: beliefs.collect(),
            cautions: question.cautions.clone(),
        }
    }
}

fn options(question: &Question, answer: Option<&Answer>) -> Vec<OptionExplained> {
    let Key::Options(right) = &question.key else { return Vec::new() };
    let chosen = |place| matches!(answer, Some(Answer::Options(chosen)) if chosen.contains(&place));
    let all = question.choices.iter().enumerate();
    all.map(|(place, choice)| OptionExplained {
        text: choice.text.clone(),
        chosen: chosen(place),
        right: right.contains(&place),
        why: choice.why.clone(),
    })
    .collect()
}

/// The steps in their right order.
fn steps(question: &Question, answer: Option<&Answer>) -> Vec<StepExplained> {
    let Key::Order(right) = &question.key else { return Vec::new() };
    let given = |option: usize| match answer {
        Some(Answer::Order(order)) => order.iter().position(|at| *at == option).map(|place| place + 1),
        _ => None,
    };
    let in_order = (1..).zip(right).filter_map(|(place, option)| {
        let choice = question.choices.get(*option)?;
        Some(StepExplained { place, given: given(*option), text: choice.text.clone(), why: choice.why.clone() })
    });
    in_order.collect()
}

fn number(question: &Question, answer: Option<&Answer>) -> Option<NumberExplained> {
    let Key::Number { value, tolerance } = &question.key else { return None };
    let unit = value.unit.symbol();
    let typed = match answer {
        Some(Answer::Number(typed)) => {
            let bare = Quantity::parse(&typed.replace(',', ".")).is_ok_and(|read| read.unit == Unit::One);
            if bare { format!("{typed} {unit}") } else { typed.clone() }
        }
        _ => String::new(),
    };
    let shown = answer.and_then(|answer| grade(question, answer).ok()).filter(|graded| !graded.correct);
    let meaning = shown
        .and_then(|graded| question.wrong_numbers.iter().find(|wrong| graded.misconceptions.contains(&wrong.believes)));
    Some(NumberExplained {
        typed: typed.trim().to_owned(),
        value: value.to_string(),
        tolerance: format!("{} {unit}", plain_number(tolerance.value)).trim().to_owned(),
        meaning: meaning.map(|wrong| wrong.why.clone()),
    })
}
