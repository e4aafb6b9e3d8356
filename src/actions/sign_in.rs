//! Signing in.

use super::throttle::{MayTry, signing_in};
use super::{ActionError, Deeds, Token, session};
use crate::domain::people::EmailAddress;
use crate::store::sessions::{Device, WaitsFor};
use crate::store::{people, sessions, write};

/// What somebody types to sign in, and where they sit.
#[derive(Debug)]
pub struct Claim<'a> {
    /// The e-mail address as typed.
    pub email: &'a str,
    /// The password as typed.
    pub password: &'a str,
    /// The network address.
    pub address: &'a str,
    /// The session that the browser still carries; it ends.
    pub before: Option<Token>,
    /// What the browser is known by, if it is.
    pub browser: Option<Token>,
    /// Roughly what they sit at.
    pub device: Device,
}

/// What comes of it.
#[derive(Debug)]
pub enum SignIn {
    /// Welcome, or one step nearer: what the session waits for is said with it.
    Begun(Token, WaitsFor),
    /// Unknown address, wrong password or suspended person: which of them is not said.
    Refused,
    /// Too many wrong passwords: try again in so many seconds.
    Wait {
        /// Seconds from now.
        seconds: i64,
    },
}

/// Checks a claim and begins a session.
///
/// # Errors
/// When the store does not answer, or too many sign in at once.
pub async fn sign_in(deeds: &Deeds, claim: Claim<'_>) -> Result<SignIn, ActionError> {
    let now = deeds.clock.now();
    let email = EmailAddress::parse(claim.email).ok();
    let folded = email.as_ref().map_or_else(|| claim.email.trim().to_lowercase(), EmailAddress::folded);
    let tried = match deeds.may_try(&signing_in(&folded, claim.address, claim.browser.as_ref()), now).await? {
        MayTry::Now(tried) => tried,
        MayTry::In(seconds) => return Ok(SignIn::Wait { seconds }),
    };
    // What is no address is nobody's; it is not even asked for, since the databases differ in what text they take.
    let found = match &email {
        Some(_) => people::find_with_password(&deeds.db, &folded).await?.filter(|(person, _)| person.active),
        None => None,
    };
    let (person, kept) = found.map_or((None, None), |(person, kept)| (Some(person), kept));
    let right = deeds.hashing.verify(claim.password.to_owned(), kept.clone()).await?;
    let number = person.as_ref().map(|person| person.id.0);
    let Some(person) = person.filter(|_| right) else {
        // With the number of whoever has the address; an address or a name never goes into the log.
        tracing::info!(person = number, "a sign-in was refused");
        return Ok(SignIn::Refused);
    };
    let anew = match kept.as_deref().filter(|kept| deeds.hashing.is_dated(kept)) {
        Some(_) => Some(deeds.hashing.hash(claim.password.to_owned()).await?),
        None => None,
    };
    let token = write(&deeds.db, async |tx| {
        // The password or the person may have changed while the hash was being computed, or be about to.
        people::in_turn(tx, person.id).await?;
        let person = people::by_id(tx, person.id).await?;
        let same = person.active && people::find_password_phc(tx, person.id).await? == kept;
        if let Some(before) = &claim.before {
            sessions::delete(tx, &before.hash()).await?;
        }
        if !same {
            return Ok::<_, ActionError>(None);
        }
        if let Some(anew) = &anew {
            people::set_password(tx, person.id, anew).await?;
        }
        let waits_for = session::waits_for(deeds, tx, &person).await?;
        let begins = session::Begins { waits_for, device: claim.device };
        Ok(Some((session::begin(tx, person.id, begins, now).await?, waits_for)))
    });
    let Some((token, waits_for)) = token.await? else { return Ok(SignIn::Refused) };
    tracing::info!(person = number, waits_for = waits_for.id(), "a password was right");
    deeds.was_right(&tried).await?;
    Ok(SignIn::Begun(token, waits_for))
}
