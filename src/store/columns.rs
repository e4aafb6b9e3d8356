//! How the words and moments of the domain stand in columns, and what is said when a column holds something else.
//!
//! Never guesses: a value that nobody knows is [`StoreError::Corrupt`].

use super::StoreError;
use crate::domain::{
    people::Role,
    units::{Moment, TemperatureUnit},
};
use sea_orm::DeriveValueType;
use serde::{Serialize, de::DeserializeOwned};

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

/// A word of the domain as it stands in a column: the same as in the domain's own JSON.
pub(super) fn word<T: Serialize>(value: T) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => word,
        // A value that is no plain word is refused by the column's CHECK.
        _ => String::new(),
    }
}

pub(super) fn from_word<T: DeserializeOwned>(column: &str, text: &str) -> Result<T, StoreError> {
    serde_json::from_value(serde_json::Value::String(text.to_owned())).map_err(|_| unknown(column, text))
}

/// What was kept as JSON.
pub(super) fn from_json<T: DeserializeOwned>(column: &str, json: &str) -> Result<T, StoreError> {
    serde_json::from_str(json).map_err(|cause| StoreError::Corrupt(format!("{column}: {cause}")))
}
