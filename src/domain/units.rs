//! Numbers that carry their unit, as files, templates and readers write them.
//!
//! Never guesses a unit: a number without one is a plain number and nothing else.

pub mod told;

use serde::{Deserialize, Serialize};
use std::fmt;

/// A moment: microseconds since 1970-01-01 00:00 UTC. Only ever an argument; the core has no clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Moment(pub i64);

impl Moment {
    /// This moment and some seconds more; saturates at the ends of time.
    #[must_use]
    pub const fn plus_seconds(self, seconds: i64) -> Self {
        Self(self.0.saturating_add(seconds.saturating_mul(1_000_000)))
    }

    /// Whole seconds from `earlier` to this moment; negative when it is later.
    #[must_use]
    pub const fn seconds_since(self, earlier: Self) -> i64 {
        (self.0 - earlier.0).div_euclid(1_000_000)
    }
}

/// What kind of thing a number measures. Only numbers of one dimension can be compared or added.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Dimension {
    /// A plain number or a count.
    Plain,
    /// A share: soot load, ash load, engine load.
    Share,
    /// A temperature on a scale.
    Temperature,
    /// A difference of two temperatures.
    TemperatureStep,
    /// Engine speed.
    Speed,
    /// A stretch of time.
    Time,
    /// A mass.
    Mass,
    /// Mass per time.
    Flow,
    /// A volume.
    Volume,
    /// Mass per volume.
    Density,
    /// A mole fraction.
    Fraction,
    /// A length.
    Length,
}

/// A unit that files, templates and readers may write.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Unit {
    /// No unit.
    #[serde(rename = "")]
    One,
    /// Percent.
    #[serde(rename = "%")]
    Percent,
    /// Degree Celsius.
    #[serde(rename = "°C")]
    Celsius,
    /// Degree Fahrenheit.
    #[serde(rename = "°F")]
    Fahrenheit,
    /// Kelvin, for a difference of temperatures.
    #[serde(rename = "K")]
    Kelvin,
    /// Revolutions per minute.
    #[serde(rename = "rpm")]
    Rpm,
    /// Second.
    #[serde(rename = "s")]
    Second,
    /// Minute.
    #[serde(rename = "min")]
    Minute,
    /// Hour.
    #[serde(rename = "h")]
    Hour,
    /// Gram.
    #[serde(rename = "g")]
    Gram,
    /// Kilogram.
    #[serde(rename = "kg")]
    Kilogram,
    /// Milligram per second.
    #[serde(rename = "mg/s")]
    MilligramPerSecond,
    /// Litre.
    #[serde(rename = "L")]
    Litre,
    /// Gram per litre.
    #[serde(rename = "g/L")]
    GramPerLitre,
    /// Parts per million.
    #[serde(rename = "ppm")]
    Ppm,
    /// Metre.
    #[serde(rename = "m")]
    Metre,
}

impl Unit {
    /// Every unit.
    pub const ALL: [Self; 16] = [
        Self::One,
        Self::Percent,
        Self::Celsius,
        Self::Fahrenheit,
        Self::Kelvin,
        Self::Rpm,
        Self::Second,
        Self::Minute,
        Self::Hour,
        Self::Gram,
        Self::Kilogram,
        Self::MilligramPerSecond,
        Self::Litre,
        Self::GramPerLitre,
        Self::Ppm,
        Self::Metre,
    ];

    /// How the unit is printed.
    #[must_use]
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::One => "",
            Self::Percent => "%",
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::Kelvin => "K",
            Self::Rpm => "rpm",
            Self::Second => "s",
            Self::Minute => "min",
            Self::Hour => "h",
            Self::Gram => "g",
            Self::Kilogram => "kg",
            Self::MilligramPerSecond => "mg/s",
            Self::Litre => "L",
            Self::GramPerLitre => "g/L",
            Self::Ppm => "ppm",
            Self::Metre => "m",
        }
    }

    /// What the unit measures.
    #[must_use]
    pub const fn dimension(self) -> Dimension {
        match self {
            Self::One => Dimension::Plain,
            Self::Percent => Dimension::Share,
            Self::Celsius | Self::Fahrenheit => Dimension::Temperature,
            Self::Kelvin => Dimension::TemperatureStep,
            Self::Rpm => Dimension::Speed,
            Self::Second | Self::Minute | Self::Hour => Dimension::Time,
            Self::Gram | Self::Kilogram => Dimension::Mass,
            Self::MilligramPerSecond => Dimension::Flow,
            Self::Litre => Dimension::Volume,
            Self::GramPerLitre => Dimension::Density,
            Self::Ppm => Dimension::Fraction,
            Self::Metre => Dimension::Length,
        }
    }

    /// Finds a unit by what people type: the symbol, or `C`, `F`, `degC`, `hours`, `minutes` and the like.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let folded = text.trim().to_lowercase();
        Some(match folded.as_str() {
            "" => Self::One,
            "%" | "percent" => Self::Percent,
            "°c" | "c" | "degc" | "deg c" => Self::Celsius,
            "°f" | "f" | "degf" | "deg f" => Self::Fahrenheit,
            "k" => Self::Kelvin,
            "rpm" | "1/min" => Self::Rpm,
            "s" | "second" | "seconds" => Self::Second,
            "min" | "minute" | "minutes" => Self::Minute,
            "h" | "hour" | "hours" => Self::Hour,
            "g" | "gram" | "grams" => Self::Gram,
            "kg" | "kilogram" | "kilograms" => Self::Kilogram,
            "mg/s" => Self::MilligramPerSecond,
            "l" | "litre" | "litres" => Self::Litre,
            "g/l" => Self::GramPerLitre,
            "ppm" => Self::Ppm,
            "m" | "metre" | "metres" => Self::Metre,
            _ => return None,
        })
    }

    /// Value in the dimension's own unit (deg C, second, percent ...), from a value in this unit.
    const fn to_own(self, value: f64) -> f64 {
        match self {
            // Source: NIST SP 811 (from memory, not confirmed): C = (F - 32) / 1.8.
            Self::Fahrenheit => (value - 32.0) / 1.8,
            Self::Minute => value * 60.0,
            Self::Hour => value * 3600.0,
            Self::Kilogram => value * 1000.0,
            _ => value,
        }
    }

    const fn of_own(self, own: f64) -> f64 {
        match self {
            Self::Fahrenheit => own * 1.8 + 32.0,
            Self::Minute => own / 60.0,
            Self::Hour => own / 3600.0,
            Self::Kilogram => own / 1000.0,
            _ => own,
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

/// The scale a reader wants temperatures in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TemperatureUnit {
    /// Degrees Celsius.
    #[default]
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
}

/// A number with its unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Quantity {
    /// The number, in `unit`.
    pub value: f64,
    /// The unit.
    pub unit: Unit,
}

/// Why a text is not a quantity.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum UnitError {
    /// It does not begin with a number.
    #[error("\"{0}\" does not begin with a number")]
    NoNumber(String),
    /// The number is too large to be one.
    #[error("\"{0}\" is not a finite number")]
    NotFinite(String),
    /// Nobody knows the unit.
    #[error("the unit \"{0}\" is not known; known are %, °C, °F, K, rpm, s, min, h, g, kg, mg/s, L, g/L, ppm, m")]
    UnknownUnit(String),
}

impl Quantity {
    /// A number in a unit.
    #[must_use]
    pub const fn new(value: f64, unit: Unit) -> Self {
        Self { value, unit }
    }

    /// Reads a number and its unit: `77 %`, `600 °C`, `1500 rpm`, `-3`.
    ///
    /// # Errors
    /// When the text does not begin with a finite number or the unit is unknown.
    pub fn parse(text: &str) -> Result<Self, UnitError> {
        let text = text.trim();
        let end = text
            .char_indices()
            .find(|(at, c)| !(c.is_ascii_digit() || *c == '.' || (*at == 0 && matches!(c, '-' | '+'))))
            .map_or(text.len(), |(at, _)| at);
        let value: f64 = text[..end].parse().map_err(|_| UnitError::NoNumber(text.to_owned()))?;
        if !value.is_finite() {
            return Err(UnitError::NotFinite(text.to_owned()));
        }
        let unit =
            Unit::from_text(&text[end..]).ok_or_else(|| UnitError::UnknownUnit(text[end..].trim().to_owned()))?;
        Ok(Self { value, unit })
    }

    /// The number in another unit of the same dimension; `None` when the dimensions differ.
    #[must_use]
    pub fn in_unit(self, unit: Unit) -> Option<f64> {
        if self.unit == unit {
            return Some(self.value);
        }
        (self.unit.dimension() == unit.dimension()).then(|| unit.of_own(self.unit.to_own(self.value)))
    }

    /// The number in the dimension's own unit: deg C, second, percent, rpm, g, mg/s, L, g/L, ppm, m, K.
    #[must_use]
    pub const fn own(self) -> f64 {
        self.unit.to_own(self.value)
    }

    /// The same quantity in the scale the reader wants. A difference of temperatures stays in kelvin: a number that is asked for has the
    /// same key for every reader.
    #[must_use]
    pub fn for_reader(self, temperature: TemperatureUnit) -> Self {
        let wanted = match (self.unit.dimension(), temperature) {
            (Dimension::Temperature, TemperatureUnit::Celsius) => Unit::Celsius,
            (Dimension::Temperature, TemperatureUnit::Fahrenheit) => Unit::Fahrenheit,
            _ => return self,
        };
        Self::new(wanted.of_own(self.own()), wanted)
    }
}

impl fmt::Display for Quantity {
    /// At most two decimals, no trailing zeros, a space before the unit: `95 %`, `0.62 mg/s`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = plain_number(self.value);
        if self.unit == Unit::One { f.write_str(&number) } else { write!(f, "{number} {}", self.unit) }
    }
}

/// A number with at most two decimals and no trailing zeros; never "-0".
#[must_use]
pub fn plain_number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn temperatures_convert_by_the_si_guide() {
        // From memory, not confirmed: NIST SP 811, C = (F - 32) / 1.8.
        for (fahrenheit, celsius) in [(1112.0, 600.0), (500.0, 260.0), (32.0, 0.0)] {
            let read = Quantity::new(fahrenheit, Unit::Fahrenheit).in_unit(Unit::Celsius).unwrap();
            assert!((read - celsius).abs() < 1e-9, "{fahrenheit} F is {read} C");
        }
    }

    #[test]
    fn what_people_type_is_read() {
        assert_eq!(Quantity::parse("77 %"), Ok(Quantity::new(77.0, Unit::Percent)));
        assert_eq!(Quantity::parse(" 600°C "), Ok(Quantity::new(600.0, Unit::Celsius)));
        assert_eq!(Quantity::parse("-3"), Ok(Quantity::new(-3.0, Unit::One)));
        assert_eq!(Quantity::parse("1 furlong"), Err(UnitError::UnknownUnit("furlong".into())));
        assert_eq!(Quantity::parse("%"), Err(UnitError::NoNumber("%".into())));
        assert_eq!(Quantity::parse(""), Err(UnitError::NoNumber(String::new())));
    }

    #[test]
    fn dimensions_do_not_mix() {
        assert_eq!(Quantity::new(1.0, Unit::Hour).in_unit(Unit::Minute), Some(60.0));
        assert_eq!(Quantity::new(1.0, Unit::Hour).in_unit(Unit::Rpm), None);
    }

    #[test]
    fn numbers_print_short() {
        assert_eq!(Quantity::new(95.0, Unit::Percent).to_string(), "95 %");
        assert_eq!(Quantity::new(0.62, Unit::MilligramPerSecond).to_string(), "0.62 mg/s");
        assert_eq!(plain_number(-0.001), "0");
    }

    proptest! {
        #[test]
        fn what_is_printed_is_read_again(hundredths in -9_000_000_000_i64..9_000_000_000, unit in 0..Unit::ALL.len()) {
            #[expect(clippy::cast_precision_loss, reason = "far below 2^53")]
            let quantity = Quantity::new(hundredths as f64 / 100.0, Unit::ALL[unit]);
            prop_assert_eq!(Quantity::parse(&quantity.to_string()), Ok(quantity));
        }

        #[test]
        fn any_text_is_a_finite_quantity_or_refused(
            text in ".{0,40}", near in "[ +.,eE0-9-]{0,8}[0-9]{0,400}[.]?[0-9]{0,4} ?[%a-zA-Z°/]{0,4}",
        ) {
            for text in [text, near] {
                if let Ok(quantity) = Quantity::parse(&text) {
                    prop_assert!(quantity.value.is_finite());
                    let shown = quantity.to_string();
                    let again = Quantity::parse(&shown);
                    prop_assert_eq!(again.map(|again| again.to_string()), Ok(shown));
                }
            }
        }
    }
}
