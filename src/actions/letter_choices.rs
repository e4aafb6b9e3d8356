//! Which letters somebody wants: chosen on the account page, or ended with the one click of a letter.
//!
//! Never tells a wrong link from one whose owner has left.

use super::on_record::about_person_with;
use super::{ActionError, Deeds, Token};
use crate::domain::letters::Kind;
use crate::domain::people::{Permission, Role, allows};
use crate::domain::units::Moment;
use crate::store::{PersonId, letter_choices, people, record, write};
use sea_orm::ConnectionTrait;
use serde_json::json;
use std::collections::BTreeSet;

/// The kinds between which somebody of a role may choose.
#[must_use]
pub fn offered_to(role: Role) -> Vec<Kind> {
    let reaches = |kind: &Kind| match kind {
        Kind::Expiry | Kind::Reminder => allows(role, Permission::SitExaminations),
        Kind::Digest => allows(role, Permission::SeeQualifications),
        Kind::Invitation | Kind::Password | Kind::Result | Kind::Decision | Kind::Assignment => false,
    };
    Kind::ALL.into_iter().filter(reaches).collect()
}

/// Of the kinds that are offered to somebody, keeps those as wanted that are, and the others as not.
///
/// # Errors
/// When the store does not answer.
pub async fn choose_letters(
    deeds: &Deeds,
    person: PersonId,
    role: Role,
    wanted: &BTreeSet<Kind>,
) -> Result<(), ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        for kind in offered_to(role) {
            let wants = wanted.contains(&kind);
            let changed = match wants {
                true => letter_choices::want(tx, person, kind).await?,
                false => letter_choices::refuse(tx, person, kind, now).await?,
            };
            if changed {
                enter(tx, Some(person), person, kind, wants, now).await?;
            }
        }
        Ok::<_, ActionError>(())
    })
    .await
}

/// Ends letters of a kind, with a letter's own link; the same again changes nothing. Gives the kind; nothing when there is no
/// such link, or its owner has left.
///
/// # Errors
/// When the store does not answer.
pub async fn end_letters(deeds: &Deeds, secret: &Token) -> Result<Option<Kind>, ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        let Some((person, kind)) = letter_choices::find_link(tx, &secret.hash()).await? else { return Ok(None) };
        if !people::by_id(tx, person).await?.active {
            return Ok(None);
        }
        if letter_choices::refuse(tx, person, kind, now).await? {
            // Whoever had the letter clicked: nobody has signed in.
            enter(tx, None, person, kind, false, now).await?;
        }
        Ok::<_, ActionError>(Some(kind))
    })
    .await
}

async fn enter(
    tx: &impl ConnectionTrait,
    by: Option<PersonId>,
    person: PersonId,
    kind: Kind,
    wanted: bool,
    now: Moment,
) -> Result<(), ActionError> {
    let detail = json!({ "kind": kind, "wanted": wanted });
    record::append(tx, about_person_with(now, by, "letters_chosen", person, detail)).await?;
    Ok(())
}
