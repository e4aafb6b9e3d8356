//! Accepting an invitation: choosing a password with the link from the letter, which works once.

use super::change_password::fits;
use super::invite_person::SAME_CLICK_S;
use super::on_record::about_person;
use super::own_password::{Verified, verified};
use super::{ActionError, Deeds, Token, session};
use crate::domain::people::PasswordProblem;
use crate::domain::units::Moment;
use crate::store::people::Person;
use crate::store::sessions::{Device, WaitsFor};
use crate::store::{StoreError, invitations, people, record, sessions, write};
use sea_orm::ConnectionTrait;

/// What comes of it.
#[derive(Debug)]
pub enum Acceptance {
    /// The password is kept and a session begun; what it waits for is said with it.
    Begun(Token, WaitsFor),
    /// The link is unknown, was used, has run out, or its person is suspended.
    NotValid,
    /// The password is not taken; the link stays good.
    Unfit(PasswordProblem),
}

/// The person whom a link invites, while it is good.
///
/// # Errors
/// When the store does not answer.
pub async fn invited(deeds: &Deeds, token: &Token) -> Result<Option<Person>, ActionError> {
    good(&deeds.db, token, deeds.clock.now()).await
}

/// Keeps the password, uses the link up and begins a session; every earlier session of the person ends.
///
/// # Errors
/// When the store does not answer, or too many passwords are hashed at once.
pub async fn accept_invitation(
    deeds: &Deeds,
    token: &Token,
    password: &str,
    device: Device,
) -> Result<Acceptance, ActionError> {
    let Some(person) = invited(deeds, token).await? else { return used_just_now(deeds, token, password, device).await };
    if let Err(problem) = fits(&person.display_name, &person.email, password)? {
        return Ok(Acceptance::Unfit(problem));
    }
    let phc = deeds.hashing.hash(password.to_owned()).await?;
    let now = deeds.clock.now();
    let begun = write(&deeds.db, async |tx| {
        // Before the link, as whoever writes a new one does: so nobody waits for the other.
        people::in_turn(tx, person.id).await?;
        // Two tabs may send the same link at the same time: the second finds it used, and nothing is kept.
        invitations::mark_used(tx, &token.hash(), now).await?;
        // Every other link that was written for this has served.
        invitations::delete_unused(tx, person.id).await?;
        let person = people::by_id(tx, person.id).await?;
        if !person.active {
            return Err(StoreError::NotFound.into());
        }
        people::set_password(tx, person.id, &phc).await?;
        sessions::delete_all_for_person(tx, person.id).await?;
        let waits_for = session::waits_for(deeds, tx, &person).await?;
        let begins = session::Begins { waits_for, device };
        let session = session::begin(tx, person.id, begins, now).await?;
        record::append(tx, about_person(now, Some(person.id), "invitation_accepted", person.id)).await?;
        Ok::<_, ActionError>((session, waits_for))
    });
    match begun.await {
        Ok((session, waits_for)) => Ok(Acceptance::Begun(session, waits_for)),
        Err(ActionError::Store(StoreError::NotFound)) => used_just_now(deeds, token, password, device).await,
        Err(error) => Err(error),
    }
}

/// The second of two clicks: the link was used a moment ago, for the password that is typed now. Whoever knows both is signed in,
/// as they would be with their address; a wrong password is counted as one of theirs who is signed in.
async fn used_just_now(
    deeds: &Deeds,
    token: &Token,
    password: &str,
    device: Device,
) -> Result<Acceptance, ActionError> {
    let now = deeds.clock.now();
    let used = invitations::find_used(&deeds.db, &token.hash(), now.plus_seconds(-SAME_CLICK_S)).await?;
    let Some(person) = used else { return Ok(Acceptance::NotValid) };
    let person = people::by_id(&deeds.db, person).await?;
    let Verified::Right(kept) = verified(deeds, &person, password, person.id).await? else {
        return Ok(Acceptance::NotValid);
    };
    let begun = write(&deeds.db, async |tx| {
        // The password or the person may have changed while the hash was being computed, or be about to.
        people::in_turn(tx, person.id).await?;
        let person = people::by_id(tx, person.id).await?;
        if !person.active || people::find_password_phc(tx, person.id).await? != kept {
            return Ok(Acceptance::NotValid);
        }
        let waits_for = session::waits_for(deeds, tx, &person).await?;
        let begins = session::Begins { waits_for, device };
        Ok::<_, ActionError>(Acceptance::Begun(session::begin(tx, person.id, begins, now).await?, waits_for))
    });
    begun.await
}

async fn good(db: &impl ConnectionTrait, token: &Token, now: Moment) -> Result<Option<Person>, ActionError> {
    let Some(usable) = invitations::find_usable(db, &token.hash(), now).await? else { return Ok(None) };
    Ok(Some(people::by_id(db, usable.person_id).await?).filter(|person| person.active))
}
