//! How the words and moments of the domain stand in columns, and what is said when a column holds something else.
//!
//! Never guesses: a value that nobody knows is [`StoreError::Corrupt`].

use super::StoreError;
use crate::domain::{
    people::Role,
    units::{Moment, TemperatureUnit},
};
use sea_orm::DeriveValueType;

/// A moment in a BIGINT column: microseconds since 1970-01-01 00:00 UTC.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, DeriveValueType)]
pub struct Ts(pub i64);

impl From<Moment> for Ts {
    fn from(moment: Moment) -> Self {
        Self(moment.0)
    }
}

impl From<Ts> for Moment {
    fn from(ts: Ts) -> Self {
        Self(ts.0)
    }
}

pub(super) fn role(text: &str) -> Result<Role, StoreError> {
    Role::ALL.into_iter().find(|role| role.id() == text).ok_or_else(|| unknown("person.role", text))
}

pub(super) const fn unit_text(unit: TemperatureUnit) -> &'static str {
    match unit {
        TemperatureUnit::Celsius => "celsius",
        TemperatureUnit::Fahrenheit => "fahrenheit",
    }
}

pub(super) fn unit(text: &str) -> Result<TemperatureUnit, StoreError> {
    match text {
        "celsius" => Ok(TemperatureUnit::Celsius),
        "fahrenheit" => Ok(TemperatureUnit::Fahrenheit),
        other => Err(unknown("temperature_unit", other)),
    }
}

/// The form in which texts are compared and searched: lower case of every script, not only of ASCII as in SQLite.
pub(super) fn fold(text: &str) -> String {
    text.trim().to_lowercase()
}

pub(super) fn unknown(column: &str, found: &str) -> StoreError {
    StoreError::Corrupt(format!("{column} holds \"{found}\", which nobody knows"))
}
