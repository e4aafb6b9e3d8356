//! Asking somebody who is known for their password once more: before it is changed, before they sign, before their sign-in changes.
//!
//! Wrong ones are counted by who types them, apart from those at sign-in: a session that somebody left open is no way to guess its
//! password, and no stranger's guesses keep anybody from what they do while they are signed in. Keeps nothing typed.

use super::throttle::{MayTry, Tried, signed_in};
use super::{ActionError, Deeds};
use crate::store::PersonId;
use crate::store::people::{self, Person};

/// What comes of it.
pub(super) enum Verified {
    /// It is theirs; what the store keeps of it, to see later whether it still is.
    Right(Option<String>),
    /// It is not, or they are suspended; the try as it was counted.
    Wrong(Tried),
    /// Wrong too often: again in so many seconds.
    Wait(i64),
}

/// Checks what was typed as the password of `of` in the session of `by`.
pub(super) async fn verified(deeds: &Deeds, of: &Person, typed: &str, by: PersonId) -> Result<Verified, ActionError> {
    let tried = match deeds.may_try(&signed_in(by, of.id), deeds.clock.now()).await? {
        MayTry::Now(tried) => tried,
        MayTry::In(seconds) => return Ok(Verified::Wait(seconds)),
    };
    let kept = people::find_password_phc(&deeds.db, of.id).await?;
    if !deeds.hashing.verify(typed.to_owned(), kept.clone()).await? || !of.active {
        return Ok(Verified::Wrong(tried));
    }
    deeds.was_right(&tried).await?;
    Ok(Verified::Right(kept))
}
