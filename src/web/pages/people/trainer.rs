//! Naming who trains a person.

use super::Choice;
use crate::actions::name_trainer::{TrainerNamed, name_trainer};
use crate::domain::people::Role;
use crate::store::people::{self, PeopleFilter};
use crate::store::{PersonId, StoreError, named_trainers};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};

/// Trainers that a list of choices has at most.
const MOST: u64 = 1000;

/// Names the trainer that was chosen, or nobody.
///
/// # Errors
/// No such person, or the program cannot do it now.
pub async fn trainer(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let id = PersonId(id.into_inner());
    let mut read = Reader::new(&fields);
    let chosen = read.line("trainer", |typed| match typed.parse::<PersonId>() {
        _ if typed.is_empty() => Ok(None),
        Ok(trainer) => Ok(Some(trainer)),
        Err(_) => Err("Choose a trainer, or nobody."),
    });
    if let Some(chosen) = chosen {
        people::by_id(&app.deeds.db, id).await?;
        match name_trainer(&app.deeds, reader.person, id, chosen).await {
            Ok(TrainerNamed::Done) => return Ok(reply::see_other(&format!("/people/{id}?done=changed"))),
            // The trainer's number is none: as wrong as somebody who trains nobody.
            Ok(TrainerNamed::NoTrainer) | Err(crate::actions::ActionError::Store(StoreError::NotFound)) => {
                read.wrong("trainer", "Choose a trainer who may sign in, and not the person.");
            }
            Err(error) => return Err(error.into()),
        }
    }
    super::person::again(&app, &reader, id, read.into_errors()).await
}

/// Who may be named, and who is.
pub(super) async fn choices(app: &App, person: PersonId) -> Result<(Vec<Choice>, String), PageError> {
    let wanted = PeopleFilter { role: Some(Role::Trainer), active: Some(true), ..PeopleFilter::default() };
    let found = people::list(&app.deeds.db, &wanted, 1, MOST).await?;
    let others = found.people.into_iter().filter(|(trainer, _)| trainer.id != person);
    let choice = |(trainer, branch): (people::Person, String)| Choice {
        value: trainer.id.to_string(),
        text: format!("{}, {branch}", trainer.display_name),
    };
    let nobody = Choice { value: String::new(), text: "Nobody".to_owned() };
    let named = named_trainers::of_person(&app.deeds.db, person).await?;
    let now = named.last().and_then(|named| named.trainer_id).map(|id| id.to_string()).unwrap_or_default();
    Ok((std::iter::once(nobody).chain(others.map(choice)).collect(), now))
}
