//! Giving a service manager's calendar a new secret address, and finding whose calendar an address is.

use super::on_record::about_person;
use super::{ActionError, Deeds, Token};
use crate::domain::people::{Permission, allows};
use crate::store::people::Person;
use crate::store::{PersonId, calendar_feeds, people, record, write};

/// Gives the calendar of `by` a new address; the one before it opens nothing any more. The secret is in the answer and
/// nowhere else. `click` is what the form carried: the same again is the same click, with the same secret in the answer and
/// nothing changed.
///
/// # Errors
/// When the store does not answer.
pub async fn renew_calendar(deeds: &Deeds, by: PersonId, click: &Token) -> Result<Token, ActionError> {
    let now = deeds.clock.now();
    // As random as what it is made of, which nobody but the reader of one page has seen.
    let secret = click.derived(&format!("calendar of {}", by.0));
    write(&deeds.db, async |tx| {
        people::in_turn(tx, by).await?;
        if calendar_feeds::find_person(tx, &secret.hash()).await? == Some(by) {
            return Ok(());
        }
        calendar_feeds::renew(tx, by, &secret.hash(), now).await?;
        record::append(tx, about_person(now, Some(by), "calendar_renewed", by)).await?;
        Ok::<_, ActionError>(())
    })
    .await?;
    Ok(secret)
}

impl Deeds {
    /// Whose calendar has this address; nothing when nobody's, or when they may no longer see who is qualified.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn recognise_calendar(&self, secret: &Token) -> Result<Option<Person>, ActionError> {
        let Some(person) = calendar_feeds::find_person(&self.db, &secret.hash()).await? else { return Ok(None) };
        let person = people::by_id(&self.db, person).await?;
        let may = person.active && allows(person.role, Permission::SeeQualifications);
        Ok(may.then_some(person))
    }
}
