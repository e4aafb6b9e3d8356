//! Who trained a person, and so never decides about them; and which practical tasks were seen.
//!
//! Whoever has gone through a missed safety question with them, whoever was ever named as their trainer, and whoever watched
//! a practical task of theirs, signed or not.

use super::history::debrief_holders;
use crate::store::{PersonId, StoreError, named_trainers, observations, people};
use sea_orm::ConnectionTrait;
use std::collections::{BTreeMap, BTreeSet};

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
    let watched: BTreeSet<PersonId> =
        observations::of_person(db, person).await?.into_iter().map(|of| of.assessor_id).collect();
    for (who, how) in [(named, "was named as the trainer"), (watched, "watched a practical task")] {
        for by in who {
            if !trained.iter().any(|known| known.by == by) {
                let name = people::by_id(db, by).await?.display_name;
                trained.push(Trained { by, name, how });
            }
        }
    }
    trained.sort_by_key(|one| one.by);
    Ok(trained)
}

/// The practical tasks that an assessor has seen a person do, by their words. Of each task the last one signed counts, on
/// whichever machine: whoever fails a task that they passed before has to be seen doing it again.
///
/// # Errors
/// Those of every query.
pub async fn practical_seen(db: &impl ConnectionTrait, person: PersonId) -> Result<BTreeSet<String>, StoreError> {
    let all = observations::of_person(db, person).await?;
    let signed = observations::signed_of(db, all.iter().map(|of| of.id)).await?;
    let mut last: BTreeMap<&str, (i64, bool)> = BTreeMap::new();
    for of in &all {
        if let Some(signed) = signed.get(&of.id) {
            let this = (signed.record_entry_id.0, signed.outcome.passed);
            let known = last.entry(of.task.id()).or_insert(this);
            *known = this.max(*known);
        }
    }
    Ok(last.into_iter().filter(|(_, (_, passed))| *passed).map(|(task, _)| task.to_owned()).collect())
}
