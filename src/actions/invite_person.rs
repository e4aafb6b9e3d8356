//! Bringing one person in: they are added, and a letter with a link to choose a password lies in the outbox, or neither.

use super::on_record::about_person_with;
use super::{ActionError, Deeds, Token};
use crate::domain::people::{EmailAddress, PersonName, Role, brings_in};
use crate::domain::units::{Moment, TemperatureUnit};
use crate::mail::letter::{self, Invitation};
use crate::store::branches::Branch;
use crate::store::invitations::Invitation as KeptInvitation;
use crate::store::outbox::NewMail;
use crate::store::people::NewPerson;
use crate::store::{BranchId, PersonId, StoreError, branches, conflict, invitations, outbox, people, record, write};
use sea_orm::ConnectionTrait;

/// How long an invitation can be accepted.
pub const VALID_FOR_S: i64 = 7 * 24 * 3600;

/// Seconds in which the same asked again is the same click; chosen by us.
pub(super) const SAME_CLICK_S: i64 = 60;

/// Whom to invite.
#[derive(Clone, Debug)]
pub struct Invitee {
    /// Their name.
    pub name: PersonName,
    /// Their address.
    pub email: EmailAddress,
    /// Where they belong.
    pub branch: BranchId,
    /// What they are here for.
    pub role: Role,
    /// What they work towards, if that is settled.
    pub scheme_key: Option<String>,
}

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum Invited {
    /// Added, now or by the same click before; the letter is in the outbox.
    Sent(PersonId),
    /// Somebody has this address already.
    AddressTaken,
    /// There is no such branch.
    NoSuchBranch,
    /// Who invites may not bring in people of this role.
    RoleNotYours,
}

/// Adds a person and writes their invitation. `by` is who invites; nobody when it is done from the command line.
///
/// # Errors
/// When the store does not answer or the letter cannot be written.
pub async fn invite_person(deeds: &Deeds, by: Option<PersonId>, invitee: Invitee) -> Result<Invited, ActionError> {
    let now = deeds.clock.now();
    let inviter = match by {
        Some(by) => Some(people::by_id(&deeds.db, by).await?),
        None => None,
    };
    if inviter.as_ref().is_some_and(|inviter| !brings_in(inviter.role, invitee.role)) {
        return Ok(Invited::RoleNotYours);
    }
    let inviter = inviter.map(|inviter| inviter.display_name);
    let added = write(&deeds.db, async |tx| {
        let branch = branches::by_id(tx, invitee.branch).await?;
        let person = add(deeds, tx, &invitee, &branch, inviter.as_deref(), now).await?;
        let detail = serde_json::json!({ "role": invitee.role.id(), "branch": branch.id });
        record::append(tx, about_person_with(now, by, "person_invited", person, detail)).await?;
        Ok(person)
    });
    match added.await {
        Ok(person) => {
            deeds.letters.notify_one();
            Ok(Invited::Sent(person))
        }
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::EMAIL => {
            let same = added_just_now(&deeds.db, &invitee, now).await?;
            Ok(same.map_or(Invited::AddressTaken, Invited::Sent))
        }
        Err(ActionError::Store(StoreError::NotFound)) => Ok(Invited::NoSuchBranch),
        Err(error) => Err(error),
    }
}

/// The person who was added a moment ago with just these words: by the same click.
pub(super) async fn added_just_now(
    db: &impl ConnectionTrait,
    invitee: &Invitee,
    now: Moment,
) -> Result<Option<PersonId>, StoreError> {
    let found = people::find_by_email_norm(db, &invitee.email.folded()).await?;
    let same = found.filter(|there| {
        (there.display_name.as_str(), there.branch_id, there.role)
            == (invitee.name.as_str(), invitee.branch, invitee.role)
            && there.scheme_key == invitee.scheme_key
            && there.active
            && now.seconds_since(there.created_at) < SAME_CLICK_S
    });
    Ok(same.map(|there| there.id))
}

/// Adds a person with their letter, inside a deed's transaction.
pub(super) async fn add(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    invitee: &Invitee,
    branch: &Branch,
    inviter: Option<&str>,
    now: Moment,
) -> Result<PersonId, ActionError> {
    let new = NewPerson {
        branch_id: branch.id,
        email: invitee.email.clone(),
        display_name: invitee.name.clone(),
        role: invitee.role,
        password_phc: None,
        temperature_unit: TemperatureUnit::Celsius,
        scheme_key: invitee.scheme_key.clone(),
        created_at: now,
    };
    let person = people::insert(tx, new).await?;
    let to = Addressee { person, name: invitee.name.as_str(), email: invitee.email.as_str(), role: invitee.role };
    hand_out(deeds, tx, to, branch, inviter, now).await?;
    Ok(person)
}

/// Who gets an invitation.
pub(super) struct Addressee<'a> {
    pub(super) person: PersonId,
    pub(super) name: &'a str,
    pub(super) email: &'a str,
    pub(super) role: Role,
}

/// Makes a key and writes the letter that carries it, inside a deed's transaction.
pub(super) async fn hand_out(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    to: Addressee<'_>,
    branch: &Branch,
    inviter: Option<&str>,
    now: Moment,
) -> Result<(), ActionError> {
    // An earlier link stops working: the newest letter is the one to use.
    invitations::delete_unused(tx, to.person).await?;
    let (link, until) = fresh_link(deeds, tx, to.person, now, VALID_FOR_S).await?;
    let invitation = Invitation {
        name: to.name,
        role_name: to.role.name(),
        branch_name: &branch.name,
        inviter,
        link: &link,
        until: until.0,
        zone: &branch.time_zone,
    };
    let mail = letter::invitation(&deeds.views, to.email, &invitation, now)?;
    outbox::enqueue(tx, NewMail { person: Some(to.person), ..mail }).await?;
    Ok(())
}

/// Makes a key to choose a password with, and gives the address that carries it and until when it is good.
pub(super) async fn fresh_link(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    person: PersonId,
    now: Moment,
    valid_for_s: i64,
) -> Result<(String, Moment), ActionError> {
    let token = Token::fresh()?;
    let until = now.plus_seconds(valid_for_s);
    let kept = KeptInvitation { token_hash: token.hash(), person_id: person, created_at: now, expires_at: until };
    invitations::insert(tx, kept).await?;
    Ok((format!("{}/invitation/{}", deeds.origin, token.as_str()), until))
}

pub(super) async fn inviters_name(
    tx: &impl ConnectionTrait,
    by: Option<PersonId>,
) -> Result<Option<String>, StoreError> {
    match by {
        Some(by) => Ok(Some(people::by_id(tx, by).await?.display_name)),
        None => Ok(None),
    }
}
