//! Works out expressions: drawn values, the machine's figures, and the model's answers for a situation.
//!
//! The same expression gives the key under the model and a wrong answer under a misconception.

use super::language::{Expr, Function, Operator, Piece, Text, TypeError, Value};
use super::limits::{LONGEST_TEXT, MOST_STEPS};
use super::meter::{self, Meter};
use super::misconception::Law;
use super::shift::Shift;
use super::template::Let;
use super::vocabulary::{figure, in_words, is_word};
use crate::aftertreatment::explain::MEANINGFUL_TO_PERCENT;
use crate::aftertreatment::hazard::Hazard;
use crate::aftertreatment::judgement::{Action, Judgement};
use crate::aftertreatment::kinetics::{self, Conditions};
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::rules::open_interlocks;
use crate::aftertreatment::situation::{Interlock, Situation};
use crate::units::{Quantity, TemperatureUnit, Unit};
use std::sync::Arc;

/// Why an expression has no value.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub(super) enum NoValue {
    /// Values that do not go together.
    #[error("{0}")]
    Type(#[from] TypeError),
    /// The model says that this never happens; draw again.
    #[error("the model says that this never happens")]
    Never,
    /// A word that this machine does not have.
    #[error("\"{0}\" is not a word of this machine")]
    Word(String),
    /// The model was asked before there was a situation.
    #[error("the model cannot be asked before the situation is there")]
    TooEarly,
    /// The question has taken more steps than one may.
    #[error(
        "working out one question takes more than {MOST_STEPS} steps; let it work out less, or draw closer to what [only if] asks"
    )]
    TooMuch,
    /// A text that nobody would read.
    #[error("this text comes to more than {LONGEST_TEXT} bytes; write less, or fill in less")]
    TooLong,
}

/// Names and what they stand for.
#[derive(Clone)]
pub(super) struct Scope<'a> {
    pub profile: &'a Profile,
    pub values: Vec<(&'a str, Value)>,
    pub moment: Option<(Situation, Judgement)>,
    /// The time before the moment, where the story has one.
    pub shift: Option<Arc<Shift>>,
    pub law: Law,
    /// What has been worked out for the question.
    pub meter: &'a Meter,
}

impl<'a> Scope<'a> {
    pub(super) const fn new(profile: &'a Profile, meter: &'a Meter) -> Self {
        Self { profile, values: Vec::new(), moment: None, shift: None, law: Law::Model, meter }
    }

    /// Adds the situation and what the lets make of it.
    pub(super) fn enter(&mut self, moment: (Situation, Judgement), lets: &'a [Let]) -> Result<(), NoValue> {
        self.moment = Some(moment);
        for each in lets.iter().filter(|each| each.asks_model) {
            let value = self.value(&each.expr)?;
            self.values.push((&each.name, value));
        }
        Ok(())
    }

    pub(super) fn value(&self, expr: &Expr) -> Result<Value, NoValue> {
        self.meter.spend(1)?;
        Ok(match expr {
            Expr::Number(quantity) => Value::Number(*quantity),
            Expr::Quoted(text) => {
                self.meter.spend_text(text.len())?;
                Value::Text(text.clone())
            }
            Expr::Name(name) => self.named(name)?,
            Expr::Machine(name) => figure(self.profile, name).ok_or_else(|| NoValue::Word(name.clone()))?,
            Expr::Shift(name) => self.shift()?.figure(name).ok_or_else(|| NoValue::Word(name.clone()))?,
            Expr::Call(function, arguments) => self.call(*function, arguments)?,
            Expr::Not(inner) => Value::Truth(!self.value(inner)?.truth()?),
            Expr::Negate(inner) => {
                let quantity = self.value(inner)?.number()?;
                Value::Number(Quantity::new(-quantity.value, quantity.unit))
            }
            Expr::Binary(operator, left, right) => {
                let left = self.value(left)?;
                match (operator, &left) {
                    (Operator::And, Value::Truth(false)) | (Operator::Or, Value::Truth(true)) => left,
                    _ => Value::combine(*operator, &left, &self.value(right)?)?,
                }
            }
        })
    }

    pub(super) fn truth(&self, expr: &Expr) -> Result<bool, NoValue> {
        Ok(self.value(expr)?.truth()?)
    }

    fn moment(&self) -> Result<&(Situation, Judgement), NoValue> {
        self.moment.as_ref().ok_or(NoValue::TooEarly)
    }

    fn shift(&self) -> Result<&Shift, NoValue> {
        self.shift.as_deref().ok_or(NoValue::TooEarly)
    }

    fn named(&self, name: &str) -> Result<Value, NoValue> {
        if let Some((_, value)) = self.values.iter().find(|(known, _)| *known == name) {
            if let Value::Text(text) = value {
                self.meter.spend_text(text.len())?;
            }
            return Ok(value.clone());
        }
        Ok(match name {
            "yes" => Value::Truth(true),
            "no" => Value::Truth(false),
            "route" => Value::Word(self.moment()?.1.route.id().to_owned()),
            "band" => Value::Word(self.profile.bands[self.moment()?.1.band].id.clone()),
            "derated" => Value::Truth(self.moment()?.1.derated),
            word if is_word(word) || self.profile.band_by_id(word).is_some() => Value::Word(word.to_owned()),
            // A band of another machine is a word here too: a comparison with it is simply false.
            word => Value::Word(word.to_owned()),
        })
    }

    fn call(&self, function: Function, arguments: &[Expr]) -> Result<Value, NoValue> {
        if function.asks_model() {
            self.meter.spend(meter::MODEL)?;
        }
        let number = |place: usize| -> Result<Quantity, NoValue> { Ok(self.argument(arguments, place)?.number()?) };
        let truth = Value::Truth;
        match function {
            Function::Permitted => {
                let action = self.word_argument(arguments, Action::from_id)?;
                Ok(truth(self.moment()?.1.permitted.contains(action)))
            }
            Function::Lit => Ok(truth(self.moment()?.1.lamps.contains(self.word_argument(arguments, Lamp::from_id)?))),
            Function::Hazard => {
                Ok(truth(self.moment()?.1.hazards.contains(self.word_argument(arguments, Hazard::from_id)?)))
            }
            Function::Open => {
                let interlock = self.word_argument(arguments, Interlock::from_id)?;
                let open = open_interlocks(self.profile, &self.moment()?.0).any(|each| each == interlock);
                Ok(truth(open))
            }
            Function::RoundTo => {
                let (value, step) = (number(0)?, self.argument(arguments, 1)?);
                round_to(value, step.in_unit(value.unit)?).map(Value::Number)
            }
            Function::Min | Function::Max => {
                let (left, right) = (Value::Number(number(0)?), Value::Number(number(1)?));
                let left_less = Value::combine(Operator::Less, &left, &right)?.truth()?;
                Ok(if left_less == (function == Function::Min) { left } else { right })
            }
            Function::SootAt | Function::OutletAt => {
                let at = self.shift()?.at(self.argument(arguments, 0)?.in_unit(Unit::Hour)?)?;
                Ok(Value::Number(match function {
                    Function::SootAt => Quantity::new(at.soot_percent, Unit::Percent),
                    _ => Quantity::new(at.outlet_c, Unit::Celsius),
                }))
            }
            Function::SootAfter
            | Function::SootAfterActive
            | Function::SootAfterParked
            | Function::HoursTo
            | Function::BalanceLoad
            | Function::SteadyOutlet => self.ask_kinetics(function, arguments).map(Value::Number),
        }
    }

    fn argument(&self, arguments: &[Expr], place: usize) -> Result<Value, NoValue> {
        // The reader has checked how many there are.
        arguments.get(place).map_or(Err(NoValue::TooEarly), |argument| self.value(argument))
    }

    fn word_argument<T>(&self, arguments: &[Expr], find: impl Fn(&str) -> Option<T>) -> Result<T, NoValue> {
        let value = self.argument(arguments, 0)?;
        let word = value.word()?;
        find(word).ok_or_else(|| NoValue::Word(word.to_owned()))
    }

    fn ask_kinetics(&self, function: Function, arguments: &[Expr]) -> Result<Quantity, NoValue> {
        let situation = &self.moment()?.0;
        let heated = |outlet_c| Situation { outlet_c, engine_running: true, ..*situation };
        let hours = || self.argument(arguments, 0)?.in_unit(Unit::Hour).map_err(NoValue::from);
        let percent = |value| Quantity::new(value, Unit::Percent);
        match function {
            Function::SootAfterActive => {
                Ok(percent(self.soot_after(&heated(self.profile.active.temperature_c), hours()?)))
            }
            Function::SootAfterParked => {
                Ok(percent(self.soot_after(&heated(self.profile.parked.temperature_c), hours()?)))
            }
            Function::HoursTo => {
                let target = self.argument(arguments, 0)?.in_unit(Unit::Percent)?;
                let hours = self.hours_to(situation, target).filter(|hours| *hours > 0.0 && *hours < 1.0e4);
                Ok(Quantity::new(hours.ok_or(NoValue::Never)?, Unit::Hour))
            }
            Function::BalanceLoad => {
                let balance = kinetics::balance_percent(self.profile, situation);
                if balance <= MEANINGFUL_TO_PERCENT { Ok(percent(balance)) } else { Err(NoValue::Never) }
            }
            Function::SteadyOutlet => Ok(Quantity::new(situation.steady_outlet_c(self.profile).value, Unit::Celsius)),
            _ => Ok(percent(self.soot_after(situation, hours()?))),
        }
    }

    /// Conditions under the law that is believed in.
    fn conditions(&self, situation: &Situation) -> Conditions {
        let conditions = Conditions::of(self.profile, situation);
        if self.law == Law::NoNewSoot { Conditions { flow_mg_per_s: 0.0, ..conditions } } else { conditions }
    }

    /// Percent points an hour that the first minute's rate would go on giving.
    fn even_rate(&self, situation: &Situation, conditions: &Conditions) -> f64 {
        let added = conditions.flow_mg_per_s * 3.6 / self.profile.filter.full_load_g() * 100.0;
        let burnt = conditions.rate_per_s(self.profile.filter.coating) * 3600.0 * situation.soot_percent;
        added - burnt
    }

    fn soot_after(&self, situation: &Situation, hours: f64) -> f64 {
        let conditions = self.conditions(situation);
        if self.law == Law::Even {
            return (situation.soot_percent + self.even_rate(situation, &conditions) * hours).max(0.0);
        }
        kinetics::soot_percent_after(self.profile, &conditions, situation.soot_percent, hours)
    }

    fn hours_to(&self, situation: &Situation, target_percent: f64) -> Option<f64> {
        let conditions = self.conditions(situation);
        if self.law == Law::Even {
            return Some((target_percent - situation.soot_percent) / self.even_rate(situation, &conditions));
        }
        kinetics::hours_to_percent(self.profile, &conditions, situation.soot_percent, target_percent)
    }

    /// Text with its values filled in, in the reader's scale.
    pub(super) fn fill(&self, text: &Text, unit: TemperatureUnit) -> Result<String, NoValue> {
        let mut filled = String::new();
        for piece in &text.0 {
            match piece {
                Piece::Plain(plain) => filled.push_str(plain),
                Piece::Filled(expr) => filled.push_str(&self.in_words(&self.value(expr)?, unit)),
                Piece::Chosen(expr, forms) => match self.value(expr)? {
                    Value::Truth(truth) => filled.push_str(forms.of_truth(truth)),
                    Value::Number(quantity) => {
                        filled.push_str(&forms.of_number(as_shown(quantity.for_reader(unit)).value));
                    }
                    other => {
                        let wanted = "a number, or yes or no,";
                        return Err(TypeError::Kind { found: other.described(), wanted }.into());
                    }
                },
            }
            if filled.len() > LONGEST_TEXT {
                return Err(NoValue::TooLong);
            }
        }
        self.meter.spend_text(filled.len())?;
        Ok(filled)
    }

    fn in_words(&self, value: &Value, unit: TemperatureUnit) -> String {
        match value {
            Value::Number(quantity) => shown_number(quantity.for_reader(unit)),
            Value::Word(word) => in_words(word, self.profile),
            Value::Text(text) => text.clone(),
            Value::Truth(truth) => if *truth { "yes" } else { "no" }.to_owned(),
        }
    }
}

/// A number as a reader wants it: whole from 100 on, at most one decimal below.
pub(super) fn shown_number(quantity: Quantity) -> String {
    as_shown(quantity).to_string()
}

fn as_shown(quantity: Quantity) -> Quantity {
    let scale = if quantity.value.abs() < 100.0 { 10.0 } else { 1.0 };
    Quantity::new((quantity.value * scale).round() / scale, quantity.unit)
}

/// The nearest multiple of a step.
pub(super) fn round_to(value: Quantity, step: f64) -> Result<Quantity, NoValue> {
    if step <= 0.0 {
        return Err(TypeError::Kind { found: format!("the step {step}"), wanted: "a step above 0" }.into());
    }
    Ok(Quantity::new((value.value / step).round() * step, value.unit))
}
