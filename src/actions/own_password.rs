//! Asking somebody who is known for their password once more: before it is changed, before they sign, before their sign-in changes.
//!
//! Wrong ones are counted as at sign-in: a session that somebody left open is no way to guess its password. Keeps nothing typed.

use super::throttle::Source;
use super::{ActionError, Deeds};
use crate::store::people::{self, Person};

/// What comes of it.
pub(super) enum Verified {
    /// It is theirs; what the store keeps of it, to see later whether it still is.
    Right(Option<String>),
    /// It is not, or they are suspended.
    Wrong,
    /// Wrong too often: again in so many seconds.
    Wait(i64),
}

/// Whose wrong passwords are counted together.
pub(super) fn account(of: &Person) -> Source {
    Source::Account(of.email.to_lowercase())
}

/// Checks what was typed; with the network address where others than the person may be typing.
pub(super) async fn verified(
    deeds: &Deeds,
    of: &Person,
    typed: &str,
    address: Option<&str>,
) -> Result<Verified, ActionError> {
    let now = deeds.clock.now();
    let sources: Vec<Source> =
        std::iter::once(account(of)).chain(address.map(|address| Source::Address(address.to_owned()))).collect();
    match deeds.may_try(&sources, now).await? {
        0 => {}
        seconds => return Ok(Verified::Wait(seconds)),
    }
    let kept = people::find_password_phc(&deeds.db, of.id).await?;
    if !deeds.hashing.verify(typed.to_owned(), kept.clone()).await? || !of.active {
        return Ok(Verified::Wrong);
    }
    deeds.was_right(&sources).await?;
    Ok(Verified::Right(kept))
}
