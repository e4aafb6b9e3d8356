//! Grades one answer against the model's key, and says what somebody who answered so believes.

use super::question::{Key, Question};
use super::share::Share;
use crate::units::{Dimension, Quantity, Unit, UnitError};
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
    /// The number has another kind of unit; these would do.
    #[error("write the number in {0}")]
    WrongUnit(String),
    /// The number can be read in two ways, which stand here.
    #[error("\"{typed}\" can be read as {thousands} or as {decimal}")]
    TwoReadings {
        /// What was typed.
        typed: String,
        /// With a comma that groups thousands.
        thousands: String,
        /// With a decimal comma.
        decimal: String,
    },
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
            let asked_before = question.source.model_version < COMMA_READ_ONE_WAY;
            let given = typed_number(typed, value.unit, asked_before)?;
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

/// From this version of the model on a comma before three digits is asked back about. Answers to older questions are read
/// as they were when they were given.
const COMMA_READ_ONE_WAY: u32 = 3;

/// A number as people type it, in the unit that is asked for: with a decimal comma or point; with its unit or another of the
/// same kind, or without, which means the unit that is shown.
fn typed_number(typed: &str, wanted: Unit, any_comma: bool) -> Result<f64, NotAnAnswer> {
    let typed = typed.trim();
    if typed.is_empty() {
        return Err(NotAnAnswer::Nothing);
    }
    if !any_comma {
        one_reading(typed)?;
    }
    let quantity = Quantity::parse(&typed.replace(',', "."))?;
    if quantity.unit == Unit::One {
        return Ok(quantity.value);
    }
    converted(quantity, wanted).ok_or_else(|| NotAnAnswer::WrongUnit(units_like(wanted)))
}

/// Refuses a comma that may group thousands as well as begin the decimals: one to three digits, not nought, before it, and
/// exactly three after it.
fn one_reading(typed: &str) -> Result<(), NotAnAnswer> {
    let number: &str = typed.trim_start_matches(['-', '+']);
    let end = number.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ','))).unwrap_or(number.len());
    let Some((before, after)) = number[..end].split_once(',') else { return Ok(()) };
    let digits = |text: &str| text.chars().all(|c| c.is_ascii_digit());
    let groups = (1..=3).contains(&before.len()) && !before.starts_with('0') && after.len() == 3;
    if !(groups && digits(before) && digits(after)) {
        return Ok(());
    }
    let sign = if typed.starts_with('-') { "-" } else { "" };
    let decimal = format!("{sign}{before}.{after}");
    Err(NotAnAnswer::TwoReadings {
        typed: typed.to_owned(),
        thousands: format!("{sign}{before}{after}"),
        decimal: decimal.trim_end_matches('0').trim_end_matches('.').to_owned(),
    })
}

/// The number in the unit that is asked for. Kelvin is a temperature where one is asked for, and degrees are a difference
/// where a difference is.
fn converted(quantity: Quantity, wanted: Unit) -> Option<f64> {
    match (quantity.unit, wanted.dimension()) {
        // Source: NIST SP 811 (from memory, not confirmed): K = C + 273.15; a step of 1 K is one of 1.8 °F.
        (Unit::Kelvin, Dimension::Temperature) => Quantity::new(quantity.value - 273.15, Unit::Celsius).in_unit(wanted),
        (Unit::Celsius, Dimension::TemperatureStep) => Some(quantity.value),
        (Unit::Fahrenheit, Dimension::TemperatureStep) => Some(quantity.value / 1.8),
        _ => quantity.in_unit(wanted),
    }
}

/// The units that a number may be written in where one unit is asked for, that one first: "h, s or min".
fn units_like(wanted: Unit) -> String {
    let like = |unit: &Unit| *unit != wanted && converted(Quantity::new(1.0, *unit), wanted).is_some();
    let mut symbols = vec![wanted.symbol()];
    symbols.extend(Unit::ALL.iter().filter(|unit| like(unit)).map(|unit| unit.symbol()));
    match symbols.as_slice() {
        [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
        _ if wanted == Unit::One => "digits alone".to_owned(),
        _ => wanted.symbol().to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn any_typed_text_is_a_finite_number_or_refused_with_a_reason(
            text in ".{0,30}", near in "[ +-]{0,2}[0-9]{0,320}[.,]{0,2}[0-9]{0,4} ?[%a-zA-Z°/]{0,5}", unit in 0..Unit::ALL.len(),
        ) {
            for typed in [text, near] {
                match typed_number(&typed, Unit::ALL[unit], false) {
                    Ok(number) => prop_assert!(number.is_finite(), "{typed:?}"),
                    Err(refused) => prop_assert!(!refused.to_string().is_empty()),
                }
            }
        }

        #[test]
        fn what_the_program_prints_may_be_typed_with_point_or_comma(
            hundredths in -9_000_000_i32..9_000_000, unit in 0..Unit::ALL.len(),
        ) {
            let quantity = Quantity::new(f64::from(hundredths) / 100.0, Unit::ALL[unit]);
            let printed = quantity.to_string();
            // Two decimals at most: a comma never groups thousands here.
            for typed in [printed.replace('.', ","), printed] {
                prop_assert_eq!(typed_number(&typed, quantity.unit, false), Ok(quantity.value), "{}", typed);
            }
        }
    }
}
