//! Who trained a person, and so never decides about them.
//!
//! Today: whoever has gone through a missed safety question with them, and whoever was ever named as their trainer. Whoever
//! watches somebody's practical task belongs here too as soon as the program keeps that.

use super::history::debrief_holders;
use crate::store::{PersonId, StoreError, named_trainers, people};
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
    let mut trained: Vec<Trained> = talked
        .into_iter()
        .map(|(by, name)| Trained { by, name, how: "went through a missed safety question" })
        .collect();
    let named: BTreeSet<PersonId> =
        named_trainers::of_person(db, person).await?.into_iter().filter_map(|named| named.trainer_id).collect();
    for by in named {
        if !trained.iter().any(|known| known.by == by) {
            let name = people::by_id(db, by).await?.display_name;
            trained.push(Trained { by, name, how: "was named as the trainer" });
        }
    }
    trained.sort_by_key(|one| one.by);
    Ok(trained)
}

/// The practical tasks that an assessor has seen a person do. Nobody observes anything yet: none.
///
/// # Errors
/// Those of every query.
pub async fn practical_seen(_db: &impl ConnectionTrait, _person: PersonId) -> Result<BTreeSet<String>, StoreError> {
    Ok(BTreeSet::new())
}
