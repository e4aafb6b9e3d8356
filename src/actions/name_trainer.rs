//! Naming who trains a person. Whoever was ever named never decides about that person's certificates.

use super::on_record::about_person_with;
use super::{ActionError, Deeds};
use crate::domain::people::Role;
use crate::store::named_trainers::{self, Named};
use crate::store::{PersonId, people, record, write};
use serde_json::json;

/// What comes of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TrainerNamed {
    /// Done, or it was so already.
    Done,
    /// Only a trainer who may sign in trains somebody, and nobody trains themselves.
    NoTrainer,
}

/// Names a person's trainer, or nobody.
///
/// # Errors
/// [`crate::store::StoreError::NotFound`] when there is no such person, or when the store does not answer.
pub async fn name_trainer(
    deeds: &Deeds,
    by: PersonId,
    person: PersonId,
    trainer: Option<PersonId>,
) -> Result<TrainerNamed, ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        people::in_turn(tx, person).await?;
        if let Some(trainer) = trainer {
            let known = people::by_id(tx, trainer).await?;
            if known.role != Role::Trainer || !known.active || trainer == person {
                return Ok(TrainerNamed::NoTrainer);
            }
        }
        let before = named_trainers::of_person(tx, person).await?.last().and_then(|named| named.trainer_id);
        if before == trainer {
            return Ok(TrainerNamed::Done);
        }
        let detail = json!({ "from": before, "to": trainer });
        let entry = record::append(tx, about_person_with(now, Some(by), "trainer_named", person, detail)).await?;
        let named =
            Named { person_id: person, trainer_id: trainer, named_by: by, named_at: now, record_entry_id: entry };
        named_trainers::append(tx, named).await?;
        Ok::<_, ActionError>(TrainerNamed::Done)
    })
    .await
}
