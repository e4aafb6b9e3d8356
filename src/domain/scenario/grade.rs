//! Grades one answer against the model's key, and says what somebody who answered so believes.

use super::question::{Key, Question};
use super::share::Share;
use crate::units::{Quantity, Unit, UnitError};
use serde::{Deserialize, Serialize};

/// What somebody answered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// The places of the chosen options.
    Options(Vec<usize>),
    /// The places of all options, in the order given.
    Order(Vec<usize>),
    /// A number as it was typed.
    Number(String),
}

/// Why an answer cannot be graded; what was typed is kept.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAnAnswer {
    /// Nothing is chosen.
    #[error("choose an answer")]
    Nothing,
    /// Something is chosen that is not there, or too much.
    #[error("choose among the options shown")]
    NotAnOption,
    /// A place in the order is missing or stands twice.
    #[error("give each step a place of its own")]
    NotAnOrder,
    /// A lamp is chosen, and that none is lit.
    #[error("choose the lamps that are lit, or that none is")]
    LitAndNone,
    /// What was typed is not a number.
    #[error("{0}")]
    NotANumber(#[from] UnitError),
    /// The number has another kind of unit.
    #[error("write the number in {0}")]
    WrongUnit(String),
}

/// What an answer is worth.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Grade {
    /// Whether it is right as a whole.
    pub correct: bool,
    /// What it earns: all or nothing, or a part where the question says so.
    pub share: Share,
    /// The misconceptions it shows.
    pub misconceptions: Vec<String>,
}

impl Grade {
    /// A grade that earns this much.
    #[must_use]
    pub const fn of(share: Share, misconceptions: Vec<String>) -> Self {
        Self { correct: share.is_whole(), share, misconceptions }
    }
}

/// Grades an answer.
///
/// # Errors
/// When it is no answer to this question.
pub fn grade(question: &Question, answer: &Answer) -> Result<Grade, NotAnAnswer> {
    let count = question.choices.len();
    match (&question.key, answer) {
        (Key::Options(right), Answer::Options(chosen)) => {
            let one_wanted = question.shown.kind == super::Kind::ChooseOne;
            let mut chosen = chosen.clone();
            chosen.sort_unstable();
            chosen.dedup();
            if chosen.is_empty() {
                return Err(NotAnAnswer::Nothing);
            }
            if chosen.iter().any(|place| *place >= count) || (one_wanted && chosen.len() > 1) {
                return Err(NotAnAnswer::NotAnOption);
            }
            if question.shown.kind == super::Kind::LampPanel && chosen.len() > 1 && chosen.contains(&(count - 1)) {
                return Err(NotAnAnswer::LitAndNone);
            }
            let wrong = |place: &usize| right.contains(place) != chosen.contains(place);
            let mut misconceptions: Vec<String> =
                (0..count).filter(wrong).filter_map(|place| question.choices[place].believes.clone()).collect();
            misconceptions.sort();
            misconceptions.dedup();
            let share = if question.shown.by_part {
                let hits = chosen.iter().filter(|place| right.contains(place)).count();
                Share::by_part(hits, chosen.len() - hits, right.len())
            } else {
                Share::whole_if(chosen == *right)
            };
            Ok(Grade::of(share, misconceptions))
        }
        (Key::Order(right), Answer::Order(given)) => {
            let mut places = given.clone();
            places.sort_unstable();
            if !places.iter().copied().eq(0..count) {
                return Err(NotAnAnswer::NotAnOrder);
            }
            Ok(Grade::of(Share::whole_if(given == right), Vec::new()))
        }
        (Key::Number { value, tolerance }, Answer::Number(typed)) => {
            let given = typed_number(typed, value.unit)?;
            let off = |from: f64| (given - from).abs() <= tolerance.value + 1e-9;
            let believed = question.wrong_numbers.iter().find(|wrong| off(wrong.value));
            let correct = off(value.value);
            let misconceptions =
                believed.filter(|_| !correct).map(|wrong| wrong.believes.clone()).into_iter().collect();
            Ok(Grade::of(Share::whole_if(correct), misconceptions))
        }
        _ => Err(NotAnAnswer::NotAnOption),
    }
}

/// A number as people type it: with a comma or a point, with or without its unit.
fn typed_number(typed: &str, wanted: Unit) -> Result<f64, NotAnAnswer> {
    let typed = typed.trim().replace(',', ".");
    if typed.is_empty() {
        return Err(NotAnAnswer::Nothing);
    }
    let quantity = Quantity::parse(&typed)?;
    if quantity.unit == Unit::One {
        return Ok(quantity.value);
    }
    quantity.in_unit(wanted).ok_or_else(|| NotAnAnswer::WrongUnit(wanted.symbol().to_owned()))
}
