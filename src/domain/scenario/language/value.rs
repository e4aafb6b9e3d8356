//! Values of the little language and what may be done with them. Numbers of different kinds never mix.

use super::Operator;
use crate::units::{Dimension, Quantity, Unit};
use serde::{Deserialize, Serialize};

/// A value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Value {
    /// A number with its unit.
    Number(Quantity),
    /// A word of the model or the machine, such as `straw` or a band's.
    Word(String),
    /// Text.
    Text(String),
    /// Yes or no.
    Truth(bool),
}

/// Why two values cannot be put together.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TypeError {
    /// Numbers of different kinds.
    #[error("{left} and {right} are different kinds of number; both sides need the same kind of unit")]
    Units {
        /// The left number.
        left: String,
        /// The right number.
        right: String,
    },
    /// Something that is not of the kind wanted.
    #[error("{found} stands where {wanted} is needed")]
    Kind {
        /// What stands there.
        found: String,
        /// What is needed.
        wanted: &'static str,
    },
    /// Division by zero, or a number beyond all bounds.
    #[error("the result is not a finite number")]
    NotFinite,
}

impl Value {
    /// Describes the value for a message.
    #[must_use]
    pub fn described(&self) -> String {
        match self {
            Self::Number(quantity) => quantity.to_string(),
            Self::Word(word) => format!("the word {word}"),
            Self::Text(text) => format!("the text \"{text}\""),
            Self::Truth(truth) => if *truth { "yes" } else { "no" }.to_owned(),
        }
    }

    fn wrong(&self, wanted: &'static str) -> TypeError {
        TypeError::Kind { found: self.described(), wanted }
    }

    /// The truth, or an error.
    ///
    /// # Errors
    /// When it is not yes or no.
    pub fn truth(&self) -> Result<bool, TypeError> {
        if let Self::Truth(truth) = self { Ok(*truth) } else { Err(self.wrong("yes or no")) }
    }

    /// The number, or an error.
    ///
    /// # Errors
    /// When it is not a number.
    pub fn number(&self) -> Result<Quantity, TypeError> {
        if let Self::Number(quantity) = self { Ok(*quantity) } else { Err(self.wrong("a number")) }
    }

    /// The word, or an error.
    ///
    /// # Errors
    /// When it is not a word.
    pub fn word(&self) -> Result<&str, TypeError> {
        if let Self::Word(word) = self { Ok(word) } else { Err(self.wrong("a word")) }
    }

    /// The number in a unit, or an error. Used for readings.
    ///
    /// # Errors
    /// When it is not a number of that kind.
    pub fn in_unit(&self, unit: Unit) -> Result<f64, TypeError> {
        let quantity = self.number()?;
        quantity.in_unit(unit).ok_or_else(|| TypeError::Units {
            left: quantity.to_string(),
            right: format!("a number in {}", unit_name(unit)),
        })
    }

    /// Puts two values together. `and` and `or` are not here: they do not look at their right side in vain.
    pub(crate) fn combine(operator: Operator, left: &Self, right: &Self) -> Result<Self, TypeError> {
        match operator {
            Operator::Equal => equal(left, right).map(Self::Truth),
            Operator::NotEqual => equal(left, right).map(|same| Self::Truth(!same)),
            Operator::Less | Operator::AtMost | Operator::More | Operator::AtLeast => {
                let (a, b) = same_kind(left.number()?, right.number()?)?;
                Ok(Self::Truth(match operator {
                    Operator::Less => a < b,
                    Operator::AtMost => a <= b,
                    Operator::More => a > b,
                    _ => a >= b,
                }))
            }
            Operator::And => Ok(Self::Truth(left.truth()? && right.truth()?)),
            Operator::Or => Ok(Self::Truth(left.truth()? || right.truth()?)),
            Operator::Add | Operator::Subtract | Operator::Multiply | Operator::Divide => {
                let result = arithmetic(operator, left.number()?, right.number()?)?;
                if result.value.is_finite() { Ok(Self::Number(result)) } else { Err(TypeError::NotFinite) }
            }
        }
    }
}

fn unit_name(unit: Unit) -> &'static str {
    if unit == Unit::One { "no unit" } else { unit.symbol() }
}

fn equal(left: &Value, right: &Value) -> Result<bool, TypeError> {
    match (left, right) {
        (Value::Number(a), Value::Number(b)) => {
            let (a, b) = same_kind(*a, *b)?;
            // Drawn numbers are sums of steps: equal means equal to a billionth.
            Ok((a - b).abs() <= 1e-9 * a.abs().max(b.abs()).max(1.0))
        }
        (Value::Word(a), Value::Word(b)) | (Value::Text(a), Value::Text(b)) => Ok(a == b),
        (Value::Truth(a), Value::Truth(b)) => Ok(a == b),
        (Value::Number(_), _) => Err(right.wrong("a number")),
        (Value::Word(_), _) => Err(right.wrong("a word")),
        (Value::Text(_), _) => Err(right.wrong("a text")),
        (Value::Truth(_), _) => Err(right.wrong("yes or no")),
    }
}

/// Both numbers in their dimension's own unit.
fn same_kind(left: Quantity, right: Quantity) -> Result<(f64, f64), TypeError> {
    if left.unit.dimension() == right.unit.dimension() {
        Ok((left.own(), right.own()))
    } else {
        Err(TypeError::Units { left: left.to_string(), right: right.to_string() })
    }
}

fn arithmetic(operator: Operator, left: Quantity, right: Quantity) -> Result<Quantity, TypeError> {
    use Dimension::{Plain, Temperature, TemperatureStep};
    let mismatch = || TypeError::Units { left: left.to_string(), right: right.to_string() };
    let (a, b) = (left.unit.dimension(), right.unit.dimension());
    let in_left =
        |own: f64| Quantity::new(Quantity::new(own, own_unit(left.unit)).in_unit(left.unit).unwrap_or(own), left.unit);
    match (operator, a, b) {
        (Operator::Subtract, Temperature, Temperature) => Ok(Quantity::new(left.own() - right.own(), Unit::Kelvin)),
        (Operator::Add, Temperature, TemperatureStep) => Ok(in_left(left.own() + right.own())),
        (Operator::Subtract, Temperature, TemperatureStep) => Ok(in_left(left.own() - right.own())),
        (Operator::Add, Temperature, Temperature) => Err(mismatch()),
        (Operator::Add, _, _) if a == b => Ok(in_left(left.own() + right.own())),
        (Operator::Subtract, _, _) if a == b => Ok(in_left(left.own() - right.own())),
        (Operator::Multiply, Temperature, _) | (Operator::Multiply, _, Temperature) => Err(mismatch()),
        (Operator::Multiply, _, Plain) => Ok(Quantity::new(left.value * right.value, left.unit)),
        (Operator::Multiply, Plain, _) => Ok(Quantity::new(left.value * right.value, right.unit)),
        (Operator::Divide, _, Plain) if a != Temperature => Ok(Quantity::new(left.value / right.value, left.unit)),
        (Operator::Divide, _, _) if a == b && a != Temperature => {
            Ok(Quantity::new(left.own() / right.own(), Unit::One))
        }
        _ => Err(mismatch()),
    }
}

/// The unit that [`Quantity::own`] gives values in.
const fn own_unit(unit: Unit) -> Unit {
    match unit {
        Unit::Fahrenheit => Unit::Celsius,
        Unit::Minute | Unit::Hour => Unit::Second,
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(left: &str, operator: Operator, right: &str, expected: &str) {
        let value = |text: &str| Value::Number(Quantity::parse(text).unwrap());
        let got = Value::combine(operator, &value(left), &value(right))
            .map_or_else(|error| error.to_string(), |value| value.described());
        assert_eq!(got, expected, "{left} {operator:?} {right}");
    }

    #[test]
    fn numbers_of_one_kind_go_together() {
        check("2 h", Operator::Add, "30 min", "2.5 h");
        check("600 °C", Operator::Subtract, "450 °C", "150 K");
        check("450 °C", Operator::Add, "10 K", "460 °C");
        check("1112 °F", Operator::Equal, "600 °C", "yes");
        check("40 %", Operator::Divide, "80 %", "0.5");
        check("40 %", Operator::Multiply, "2", "80 %");
    }

    #[test]
    fn numbers_of_different_kinds_do_not() {
        check(
            "2 h",
            Operator::Add,
            "30 %",
            "2 h and 30 % are different kinds of number; both sides need the same kind of unit",
        );
        check(
            "2 h",
            Operator::Less,
            "30 rpm",
            "2 h and 30 rpm are different kinds of number; both sides need the same kind of unit",
        );
        check("1", Operator::Divide, "0", "the result is not a finite number");
    }
}
