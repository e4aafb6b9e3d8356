//! Questions whose answer is a number that the model works out.

use super::{Asked, Believed, Built, Miss, Wrong, choose};
use crate::aftertreatment::explain::MEANINGFUL_TO_PERCENT;
use crate::aftertreatment::kinetics::{Conditions, burnt_percent_in_one_hour};
use crate::scenario::draw::Draws;
use crate::scenario::language::Value;
use crate::scenario::misconception::{self, Law};
use crate::scenario::question::{Choice, Key, WrongNumber};
use crate::scenario::scope::{NoValue, Scope, round_to, shown_number};
use crate::scenario::vocabulary::{FIGURES, figure};
use crate::units::{Dimension, Quantity, TemperatureUnit, Unit, plain_number};

pub(super) fn number(asked: &Asked<'_>) -> Result<Built, Miss> {
    let answer = &asked.template.answer;
    let line = answer.line;
    let unit = for_reader(answer.unit.unwrap_or(Unit::One), asked.unit);
    let key = key(asked, asked.scope)?;
    let value = in_unit(key, unit).ok_or_else(|| mismatch(line, key, unit))?;
    let tolerance = match &answer.tolerance {
        Some(expr) => tolerance_in(
            asked.scope.value(expr).map_err(broken(line))?.number().map_err(|e| Miss::Broken(line, e.to_string()))?,
            unit,
        ),
        None => None,
    };
    let tolerance = tolerance
        .filter(|t| *t > 0.0)
        .ok_or_else(|| Miss::Broken(line, format!("the tolerance must be above 0 and in {unit}")))?;
    let mut wrong_numbers: Vec<WrongNumber> = Vec::new();
    for place in 0..misconception::ALL.len() {
        let Some(believed) = asked.believed(place) else { continue };
        let Some(other) = believed_key(asked, &believed).and_then(|other| in_unit(other, unit)) else { continue };
        if !somebody_could_say(other, unit) {
            continue;
        }
        let far = |from: f64| (other - from).abs() > 2.0 * tolerance;
        if far(value) && wrong_numbers.iter().all(|known| far(known.value)) {
            wrong_numbers.push(WrongNumber {
                believes: believed.wrong.id.to_owned(),
                value: other,
                why: believed.wrong.teach.to_owned(),
            });
        }
    }
    let key = Key::Number { value: Quantity::new(value, unit), tolerance: Quantity::new(tolerance, unit) };
    Ok(Built {
        choices: Vec::new(),
        key,
        wrong_numbers,
        reasons: reasons(asked, Quantity::new(value, unit)),
        unit: Some(unit),
    })
}

pub(super) fn choice(asked: &Asked<'_>, draws: &mut Draws) -> Result<Built, Miss> {
    let line = asked.template.answer.line;
    let key = key(asked, asked.scope)?;
    let step = step(asked, key.unit)?;
    let rounded = |value: Quantity| round_to(value, step).map_err(broken(line));
    let right = rounded(key)?;
    let mut wrong: Vec<(Quantity, Wrong)> = Vec::new();
    let text = |value: Quantity| shown_number(value.for_reader(asked.unit));
    let far = |value: Quantity, wrong: &[(Quantity, Wrong)]| {
        value.value.is_finite()
            && (value.value - right.value).abs() > 1.5 * step
            && wrong.iter().all(|(other, _)| (value.value - other.value).abs() > 1.5 * step)
    };
    for believed in asked.believers(draws).into_iter().filter_map(|place| asked.believed(place)) {
        let Some(value) = believed_key(asked, &believed).and_then(|value| in_unit(value, key.unit)) else { continue };
        let value = rounded(Quantity::new(value, key.unit))?;
        if far(value, &wrong) && somebody_could_say(value.value, value.unit) {
            wrong.push((value, Wrong::believed(text(value), believed.wrong, "")));
        }
    }
    let mut figures: Vec<&str> = FIGURES.to_vec();
    draws.shuffle(&mut figures);
    for name in figures {
        let Some(Value::Number(value)) = figure(&asked.machine.profile, name) else { continue };
        let Some(value) = in_unit(value, key.unit) else { continue };
        let value = rounded(Quantity::new(value, key.unit))?;
        if far(value, &wrong) {
            let why = format!(
                "The model gives {}. This number belongs to something else on this machine: {}.",
                text(right),
                name.replace('_', " ")
            );
            wrong.push((value, Wrong { text: text(value), why, believes: None }));
        }
    }
    let reasons = reasons(asked, right);
    let right_choice = Choice { text: text(right), why: reasons.join(" "), believes: None };
    let values: Vec<(String, f64)> = wrong
        .iter()
        .map(|(value, wrong)| (wrong.text.clone(), value.value))
        .chain([(text(right), right.value)])
        .collect();
    let (right_choice, mut choices) =
        choose(asked.template.answer.options, right_choice, wrong.into_iter().map(|(_, wrong)| wrong).collect())?;
    let right_text = right_choice.text.clone();
    choices.push(right_choice);
    // Numbers stand in rising order. Source: Haladyna, Downing & Rodriguez 2002, Appl. Meas. Educ. 15:309-334.
    let value_of =
        |choice: &Choice| values.iter().find(|(text, _)| *text == choice.text).map_or(0.0, |(_, value)| *value);
    choices.sort_by(|a, b| value_of(a).total_cmp(&value_of(b)));
    let at = choices.iter().position(|choice| choice.text == right_text).unwrap_or_default();
    Ok(Built { choices, key: Key::Options(vec![at]), wrong_numbers: Vec::new(), reasons, unit: None })
}

/// Whether a wrong number is one that a person would give: a misconception that has no limit gives numbers beyond all
/// sense, and nobody reads a load, a time or a speed below nothing.
fn somebody_could_say(value: f64, unit: Unit) -> bool {
    match unit.dimension() {
        Dimension::Temperature => value.abs() < 2.0e3,
        _ if unit == Unit::Percent => (0.0..=MEANINGFUL_TO_PERCENT).contains(&value),
        _ => (0.0..1.0e4).contains(&value),
    }
}

fn broken(line: u32) -> impl Fn(NoValue) -> Miss {
    move |no| match no {
        NoValue::Never => Miss::Again("the model says that this never happens"),
        other => Miss::Broken(line, other.to_string()),
    }
}

fn mismatch(line: u32, key: Quantity, unit: Unit) -> Miss {
    Miss::Broken(line, format!("the key is {key}, which is not a number in {unit}"))
}

fn key(asked: &Asked<'_>, scope: &Scope<'_>) -> Result<Quantity, Miss> {
    let line = asked.template.answer.line;
    let Some(key) = &asked.template.answer.key else { return Err(Miss::Broken(line, "there is no key".to_owned())) };
    let value = scope.value(&key.what).map_err(broken(key.line))?;
    value.number().map_err(|error| Miss::Broken(key.line, error.to_string()))
}

/// The key as somebody with a misconception works it out; nothing when it makes no difference or no sense.
fn believed_key<'a>(asked: &Asked<'a>, believed: &Believed<'a>) -> Option<Quantity> {
    let bent = believed.wrong.law != Law::Model
        || believed.situation != *asked.situation
        || !std::ptr::eq(believed.profile, asked.scope.profile);
    let scope = bent.then(|| asked.scope_of(believed)).flatten()?;
    key(asked, &scope).ok().filter(|value| value.value.is_finite())
}

fn step(asked: &Asked<'_>, unit: Unit) -> Result<f64, Miss> {
    let line = asked.template.answer.line;
    let Some(expr) = &asked.template.answer.step else { return Err(Miss::Broken(line, "there is no step".to_owned())) };
    let step = asked
        .scope
        .value(expr)
        .map_err(broken(line))?
        .number()
        .map_err(|error| Miss::Broken(line, error.to_string()))?;
    tolerance_in(step, unit).filter(|step| *step > 0.0).ok_or_else(|| mismatch(line, step, unit))
}

fn for_reader(unit: Unit, wanted: TemperatureUnit) -> Unit {
    match (unit.dimension(), wanted) {
        (Dimension::Temperature, TemperatureUnit::Celsius) => Unit::Celsius,
        (Dimension::Temperature, TemperatureUnit::Fahrenheit) => Unit::Fahrenheit,
        _ => unit,
    }
}

fn in_unit(value: Quantity, unit: Unit) -> Option<f64> {
    value.in_unit(unit)
}

/// A tolerance or step in a unit: for temperatures a difference, however it is written.
fn tolerance_in(value: Quantity, unit: Unit) -> Option<f64> {
    match (unit, value.unit) {
        (Unit::Celsius, Unit::Celsius | Unit::Kelvin) | (Unit::Fahrenheit, Unit::Fahrenheit) => Some(value.value),
        (Unit::Celsius, Unit::Fahrenheit) => Some(value.value / 1.8),
        (Unit::Fahrenheit, Unit::Celsius | Unit::Kelvin) => Some(value.value * 1.8),
        _ => value.in_unit(unit),
    }
}

/// What the model's number rests on.
fn reasons(asked: &Asked<'_>, right: Quantity) -> Vec<String> {
    let mut reasons = vec![format!("The model gives {}.", shown_number(right.for_reader(asked.unit)))];
    let mut asks_kinetics = false;
    if let Some(key) = &asked.template.answer.key {
        let mut look = |expr: &crate::scenario::language::Expr| {
            asks_kinetics |=
                matches!(expr, crate::scenario::language::Expr::Call(function, _) if function.asks_model());
        };
        key.what.walk(&mut look);
        asked.template.lets.iter().for_each(|each| each.expr.walk(&mut look));
    }
    if asks_kinetics {
        let profile = &asked.machine.profile;
        let conditions = Conditions::of(profile, asked.situation);
        let adds = conditions.flow_mg_per_s * 3.6 / profile.filter.full_load_g() * 100.0;
        let burns = burnt_percent_in_one_hour(profile, asked.situation.outlet_c);
        let outlet = shown_number(Quantity::new(asked.situation.outlet_c, Unit::Celsius).for_reader(asked.unit));
        reasons.push(format!(
            "At an outlet of {outlet} this work adds {} % of soot load an hour, and {} % of the soot that is there burns in an hour.",
            plain_number((adds * 10.0).round() / 10.0),
            plain_number((burns * 10.0).round() / 10.0),
        ));
    }
    reasons
}
