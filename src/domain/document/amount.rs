//! Numbers in a section: with their unit, within their range, alone or several in a row.
//!
//! Never guesses a unit and never holds a number to its range: what does not fit is a problem.

use super::section::{Section, shown};
use crate::units::{Dimension, Quantity, Unit};
use std::ops::RangeInclusive;
use toml::de::DeValue;

impl Section<'_> {
    /// A number with its unit, given in `unit`: `"30 min"`. With [`Unit::One`] a bare number: `30`.
    #[must_use]
    pub fn quantity(&self, key: &str, unit: Unit) -> Option<f64> {
        let value = self.required(key, example(unit))?;
        self.amount(key, value, unit)
    }

    /// A number with its unit that may be left out.
    #[must_use]
    pub fn optional_quantity(&self, key: &str, unit: Unit) -> Option<f64> {
        self.has(key).then(|| self.quantity(key, unit)).flatten()
    }

    /// Several numbers with one unit, given in `unit`: `"0 25 50 100 %"`.
    #[must_use]
    pub fn series(&self, key: &str, unit: Unit) -> Option<Vec<f64>> {
        let wanted = format!("numbers and one unit, such as \"0 25 50 {unit}\"");
        let text = self.required(key, &wanted)?.as_str();
        let text = self.non_blank(key, text)?;
        let (numbers, symbol) = split_series(&text);
        let mut values = Vec::new();
        for number in numbers {
            match Quantity::parse(&format!("{number} {symbol}")) {
                Ok(quantity) => values.push(self.converted(key, quantity, &text, unit)?),
                Err(error) => {
                    self.report(key, format!("{error}; write {wanted}"));
                    return None;
                }
            }
        }
        if values.is_empty() {
            self.report(key, format!("\"{text}\" holds no number; write {wanted}"));
            return None;
        }
        Some(values)
    }

    /// A number with its unit, given in `unit`, that must lie in a range of it.
    #[must_use]
    pub fn quantity_within(&self, key: &str, unit: Unit, range: RangeInclusive<f64>) -> Option<f64> {
        let value = self.quantity(key, unit)?;
        self.inside(key, Quantity::new(value, unit), &range).then_some(value)
    }

    /// Several numbers with one unit, each of which must lie in a range.
    #[must_use]
    pub fn series_within(&self, key: &str, unit: Unit, range: RangeInclusive<f64>) -> Option<Vec<f64>> {
        let values = self.series(key, unit)?;
        let fits = values.iter().all(|value| self.inside(key, Quantity::new(*value, unit), &range));
        fits.then_some(values)
    }

    /// A whole number.
    #[must_use]
    pub fn integer(&self, key: &str) -> Option<i64> {
        let value = self.required(key, "a whole number, such as 3")?;
        let whole = value.as_integer().and_then(|digits| i64::from_str_radix(digits.as_str(), digits.radix()).ok());
        if whole.is_none() {
            self.report(key, format!("{} is not a whole number; write one without quotes, such as 3", shown(value)));
        }
        whole
    }

    /// A whole number that may be left out.
    #[must_use]
    pub fn optional_integer(&self, key: &str) -> Option<i64> {
        self.has(key).then(|| self.integer(key)).flatten()
    }

    /// A whole number that must lie in a range.
    #[must_use]
    pub fn integer_within(&self, key: &str, range: RangeInclusive<i64>) -> Option<i64> {
        let value = self.integer(key)?;
        if !range.contains(&value) {
            self.report(key, format!("{value} is out of range; write {} to {}", range.start(), range.end()));
            return None;
        }
        Some(value)
    }

    fn inside(&self, key: &str, quantity: Quantity, range: &RangeInclusive<f64>) -> bool {
        let fits = range.contains(&quantity.value);
        if !fits {
            let [low, high] = [range.start(), range.end()].map(|end| Quantity::new(*end, quantity.unit));
            self.report(key, format!("{quantity} is out of range; write {low} to {high}"));
        }
        fits
    }

    fn amount(&self, key: &str, value: &DeValue<'_>, unit: Unit) -> Option<f64> {
        let bare = value.as_integer().map(|n| n.as_str()).or_else(|| value.as_float().map(|n| n.as_str()));
        let Some(text) = value.as_str().or(bare) else {
            self.report(key, format!("{} is not a number; write {}", shown(value), example(unit)));
            return None;
        };
        match Quantity::parse(text) {
            Ok(quantity) => self.converted(key, quantity, text, unit),
            Err(error) => {
                self.report(key, format!("{error}; write {}", example(unit)));
                None
            }
        }
    }

    fn converted(&self, key: &str, quantity: Quantity, text: &str, unit: Unit) -> Option<f64> {
        let converted = quantity.in_unit(unit);
        if converted.is_none() {
            let fault = if quantity.unit == Unit::One {
                format!("\"{text}\" has no unit")
            } else {
                format!("\"{text}\" is {}, not {}", measured(quantity.unit), measured(unit))
            };
            self.report(key, format!("{fault}; write {}", example(unit)));
        }
        converted
    }
}

/// Splits "0 25 50 %" into its numbers and the unit after the last of them.
fn split_series(text: &str) -> (Vec<&str>, &str) {
    let is_number = |word: &&str| word.parse::<f64>().is_ok();
    let numbers: Vec<&str> = text.split_whitespace().take_while(is_number).collect();
    let unit = numbers.last().map_or(text, |last| {
        // `last` is a slice of `text`: what follows it is the unit.
        let end = last.as_ptr() as usize - text.as_ptr() as usize + last.len();
        text[end..].trim()
    });
    (numbers, unit)
}

const fn measured(unit: Unit) -> &'static str {
    match unit.dimension() {
        Dimension::Plain => "a plain number",
        Dimension::Share => "a share",
        Dimension::Temperature => "a temperature",
        Dimension::TemperatureStep => "a difference of temperatures",
        Dimension::Speed => "an engine speed",
        Dimension::Time => "a time",
        Dimension::Mass => "a mass",
        Dimension::Flow => "a mass flow",
        Dimension::Volume => "a volume",
        Dimension::Density => "a mass per volume",
        Dimension::Fraction => "a mole fraction",
        Dimension::Length => "a length",
    }
}

const fn example(unit: Unit) -> &'static str {
    match unit {
        Unit::One => "a number, such as 3",
        Unit::Percent => "a number with its unit, such as \"77 %\"",
        Unit::Celsius => "a number with its unit, such as \"600 °C\"",
        Unit::Fahrenheit => "a number with its unit, such as \"1112 °F\"",
        Unit::Kelvin => "a number with its unit, such as \"20 K\"",
        Unit::Rpm => "a number with its unit, such as \"1500 rpm\"",
        Unit::Second => "a number with its unit, such as \"90 s\"",
        Unit::Minute => "a number with its unit, such as \"30 min\"",
        Unit::Hour => "a number with its unit, such as \"50 h\"",
        Unit::Gram => "a number with its unit, such as \"80 g\"",
        Unit::Kilogram => "a number with its unit, such as \"3 kg\"",
        Unit::MilligramPerSecond => "a number with its unit, such as \"0.62 mg/s\"",
        Unit::Litre => "a number with its unit, such as \"17.0 L\"",
        Unit::GramPerLitre => "a number with its unit, such as \"6 g/L\"",
        Unit::Ppm => "a number with its unit, such as \"250 ppm\"",
        Unit::Metre => "a number with its unit, such as \"3 m\"",
    }
}
