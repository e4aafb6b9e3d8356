//! Draws one value: from a range, inside a stretch of soot load, or one of several choices.
//!
//! Never looks at what becomes of it.

use crate::aftertreatment::profile::Profile;
use crate::scenario::draw::Draws;
use crate::scenario::language::{TypeError, Value};
use crate::scenario::scope::{NoValue, Scope};
use crate::scenario::template::Draw;
use crate::scenario::template_reader::STRETCHES;
use crate::units::{Quantity, Unit};

pub(super) fn draw_value(draw: &Draw, scope: &Scope<'_>, draws: &mut Draws) -> Result<Value, NoValue> {
    match draw {
        Draw::OneOf(choices) => {
            let mut ticket = draws.below(choices.iter().map(|(_, weight)| weight).sum());
            let drawn = choices.iter().find(|(_, weight)| match ticket.checked_sub(*weight) {
                Some(left) => {
                    ticket = left;
                    false
                }
                None => true,
            });
            drawn.map_or(Err(NoValue::TooEarly), |(choice, _)| scope.value(choice))
        }
        Draw::If { condition, then, otherwise } => {
            draw_value(if scope.truth(condition)? { then } else { otherwise }, scope, draws)
        }
        Draw::Fixed(expr) => scope.value(expr),
        Draw::Range { from, to, step } => {
            let from = scope.value(from)?.number()?;
            let to = scope.value(to)?.in_unit(from.unit)?;
            let step = step_in(scope.value(step)?, from.unit)?;
            stepped(draws, from.value, to, step).map(|value| Value::Number(Quantity::new(value, from.unit)))
        }
        Draw::Inside { stretch, keep, step } => {
            let (low, high) = ends(scope.profile, stretch)?;
            let keep = scope.value(keep)?.in_unit(Unit::Percent)?;
            let step = scope.value(step)?.in_unit(Unit::Percent)?;
            // Whole steps inside the kept ends, so that readers see round numbers.
            let from = ((low + keep) / step).ceil() * step;
            stepped(draws, from, high - keep, step).map(|value| Value::Number(Quantity::new(value, Unit::Percent)))
        }
    }
}

/// A step; for temperatures a difference may be written as `10 °C` or `10 °F`.
fn step_in(step: Value, unit: Unit) -> Result<f64, NoValue> {
    let quantity = step.number()?;
    Ok(match (unit, quantity.unit) {
        (Unit::Celsius, Unit::Celsius | Unit::Kelvin) | (Unit::Fahrenheit, Unit::Fahrenheit) => quantity.value,
        (Unit::Celsius, Unit::Fahrenheit) => quantity.value / 1.8,
        (Unit::Fahrenheit, Unit::Celsius | Unit::Kelvin) => quantity.value * 1.8,
        _ => step.in_unit(unit)?,
    })
}

fn stepped(draws: &mut Draws, from: f64, to: f64, step: f64) -> Result<f64, NoValue> {
    let count = ((to - from) / step + 1e-9).floor();
    if step <= 0.0 || !(0.0..=1.0e6).contains(&count) {
        return Err(NoValue::Type(TypeError::Kind {
            found: format!("a draw from {from} to {to} by {step}"),
            wanted: "a range that is not empty",
        }));
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and a million")]
    let count = count as usize;
    #[expect(clippy::cast_precision_loss, reason = "at most a million")]
    let steps = draws.below(count + 1) as f64;
    Ok(from + steps * step)
}

/// The ends of a stretch of soot load on this machine, in percent.
fn ends(profile: &Profile, stretch: &str) -> Result<(f64, f64), NoValue> {
    let p = profile;
    let [work, watch, active, parked, stop] = STRETCHES;
    let last = p.stop_above_percent + 40.0;
    if let Some(band) = p.band_by_id(stretch).filter(|_| !STRETCHES.contains(&stretch)) {
        return Ok((band.from_percent, band.to_percent.min(last)));
    }
    Ok(match stretch {
        s if s == work => (0.0, p.passive.advise_from_percent),
        s if s == watch => (p.passive.advise_from_percent, p.active.from_percent),
        s if s == active => (p.active.from_percent, p.parked.from_percent),
        s if s == parked => (p.parked.from_percent, p.stop_above_percent),
        s if s == stop => (p.stop_above_percent, last),
        other => return Err(NoValue::Word(other.to_owned())),
    })
}
