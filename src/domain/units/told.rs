//! Temperatures inside a written text, told in the reader's scale, in whole degrees: words are no place for more.

use super::{Quantity, TemperatureUnit, Unit, plain_number};
use std::borrow::Cow;

const SIGN: &str = " °C";

/// A text with its temperatures in the reader's scale: "204 to 260 °C" becomes "399 to 500 °F".
///
/// Texts of the bank are written in degrees Celsius. A sign without a number before it stays as it is.
#[must_use]
pub fn temperatures(text: &str, unit: TemperatureUnit) -> Cow<'_, str> {
    if unit == TemperatureUnit::Celsius || !text.contains(SIGN) {
        return Cow::Borrowed(text);
    }
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once(SIGN) {
        let (words, last) = last_number(before);
        let (words, first) = match words.strip_suffix(" to ").map(last_number) {
            Some((words, Some(first))) => (words, Some(first)),
            _ => (words, None),
        };
        match last {
            None => out.push_str(&format!("{before}{SIGN}")),
            Some(last) => {
                let first = first.map(|first| format!("{} to ", degrees(first, unit))).unwrap_or_default();
                out.push_str(&format!("{words}{first}{} {}", degrees(last, unit), Unit::Fahrenheit.symbol()));
            }
        }
        rest = after;
    }
    out.push_str(rest);
    Cow::Owned(out)
}

/// The number that a text ends with, and what stands before it.
fn last_number(text: &str) -> (&str, Option<f64>) {
    let start = text.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.').len();
    // The dot of a sentence that ended before the number is no part of it.
    let start = start + text[start..].len() - text[start..].trim_start_matches('.').len();
    let start = if text[..start].ends_with(" -") || &text[..start] == "-" { start - 1 } else { start };
    (&text[..start], text[start..].parse().ok())
}

fn degrees(celsius: f64, unit: TemperatureUnit) -> String {
    plain_number(Quantity::new(celsius, Unit::Celsius).for_reader(unit).value.round())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn temperatures_are_told_in_the_readers_scale() {
        let told = |text: &str| temperatures(text, TemperatureUnit::Fahrenheit).into_owned();
        // From memory, not confirmed: NIST SP 811, 600 °C = 1112 °F and 260 °C = 500 °F.
        assert_eq!(told("About 600 °C, or 260 °C."), "About 1112 °F, or 500 °F.");
        assert_eq!(told("204 to 260 °C"), "399 to 500 °F");
        assert_eq!(told("in °C"), "in °C");
        assert_eq!(told("at 37.5 °C or -40 °C"), "at 100 °F or -40 °F");
        assert_eq!(told("from -10 to 20 °C"), "from 14 to 68 °F");
        assert_eq!(temperatures("600 °C", TemperatureUnit::Celsius), "600 °C");
    }
}
