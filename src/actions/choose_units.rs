//! Choosing the scale in which one reads temperatures.

use super::{ActionError, Deeds};
use crate::domain::units::TemperatureUnit;
use crate::store::{PersonId, StoreError, people, write};

/// Changes the scale for the person's pages and for examinations that begin from now on. It proves nothing about
/// anybody, so it stands in no record.
///
/// # Errors
/// When the store does not answer.
pub async fn choose_units(deeds: &Deeds, person: PersonId, unit: TemperatureUnit) -> Result<(), ActionError> {
    Ok(write::<_, StoreError, _>(&deeds.db, async |tx| people::set_unit(tx, person, unit).await).await?)
}
