//! Sending a person a new link to choose a password: the first one ran out, or the password is forgotten.
//!
//! Never tells a password and never sets one for somebody else.

use super::invite_person::{Addressee, SAME_CLICK_S, hand_out, inviters_name};
use super::on_record::about_person;
use super::{ActionError, Deeds};
use crate::store::{PersonId, StoreError, branches, invitations, people, record, write};

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum InvitedAgain {
    /// The letter is in the outbox, now or since the same click.
    Sent,
    /// There is no such person, or they are suspended.
    NoSuchPerson,
}

/// Writes the letter. The password that the person has stays good until they choose another.
///
/// # Errors
/// When the store does not answer or the letter cannot be written.
pub async fn invite_again(deeds: &Deeds, by: PersonId, person: PersonId) -> Result<InvitedAgain, ActionError> {
    let now = deeds.clock.now();
    let sent = write(&deeds.db, async |tx| {
        people::in_turn(tx, person).await?;
        let of = people::by_id(tx, person).await?;
        if !of.active {
            return Err(StoreError::NotFound.into());
        }
        // Two clicks write one letter: the second would make the link of the first worthless on its way.
        let links = invitations::of_person(tx, person).await?;
        if links.iter().any(|(link, used)| used.is_none() && now.seconds_since(link.created_at) < SAME_CLICK_S) {
            return Ok(());
        }
        let branch = branches::by_id(tx, of.branch_id).await?;
        let inviter = inviters_name(tx, Some(by)).await?;
        let to = Addressee { person, name: &of.display_name, email: &of.email, role: of.role };
        hand_out(deeds, tx, to, &branch, inviter.as_deref(), now).await?;
        record::append(tx, about_person(now, Some(by), "person_invited_again", person)).await?;
        Ok::<_, ActionError>(())
    });
    match sent.await {
        Ok(()) => {
            deeds.letters.notify_one();
            Ok(InvitedAgain::Sent)
        }
        Err(ActionError::Store(StoreError::NotFound)) => Ok(InvitedAgain::NoSuchPerson),
        Err(error) => Err(error),
    }
}
