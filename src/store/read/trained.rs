//! Who trained a person, and so never decides about them.
//!
//! Today: whoever has gone through a missed safety question with them. Whoever watches somebody's practical task, or is
//! named as somebody's trainer, belongs here too as soon as the program keeps that.

use super::history::debrief_holders;
use crate::store::{PersonId, StoreError};
use sea_orm::ConnectionTrait;
use std::collections::BTreeSet;

/// One who trained, with what shows it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trained {
    /// Who.
    pub by: PersonId,
    /// Their name.
    pub name: String,
    /// What they did, in words.
    pub how: &'static str,
}

/// Everyone who trained a person, by number.
///
/// # Errors
/// Those of every query.
pub async fn who_trained(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Trained>, StoreError> {
    let talked = debrief_holders(db, person).await?;
    Ok(talked
        .into_iter()
        .map(|(by, name)| Trained { by, name, how: "went through a missed safety question" })
        .collect())
}

/// The practical tasks that an assessor has seen a person do. Nobody observes anything yet: none.
///
/// # Errors
/// Those of every query.
pub async fn practical_seen(_db: &impl ConnectionTrait, _person: PersonId) -> Result<BTreeSet<String>, StoreError> {
    Ok(BTreeSet::new())
}
