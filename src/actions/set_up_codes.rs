//! Setting one-time codes up, new recovery codes, and taking the codes away: one's own, or somebody's who lost everything.
//!
//! Shows a key and recovery codes to nobody but the person, and the recovery codes only once.

use super::invite_person::SAME_CLICK_S;
use super::on_record::{about_person, about_person_with};
use super::one_time_code::{fresh_key, in_base32, recovery_codes, source, step_of, use_code};
use super::own_password::{Verified, verified};
use super::session::{Begins, begin};
use super::throttle::MayTry;
use super::{ActionError, Deeds, Token};
use crate::domain::people::needs_one_time_codes;
use crate::domain::units::Moment;
use crate::store::sessions::{Device, WaitsFor};
use crate::store::{PersonId, StoreError, one_time_codes, people, record, sessions, write};
use sea_orm::ConnectionTrait;
use serde_json::json;

/// A key that a phone takes in.
#[derive(Clone)]
pub struct Offer {
    /// In Base32, to be typed.
    pub key: String,
    /// The same as an address that a phone's camera reads.
    pub uri: String,
}

/// How long an offered key is shown again; after that, it is another.
const OFFER_S: i64 = 3600;

/// Offers a person a key, the same again for an hour; nothing when they have codes already.
///
/// # Errors
/// When the store does not answer.
pub async fn offer_key(deeds: &Deeds, person: PersonId) -> Result<Option<Offer>, ActionError> {
    let now = deeds.clock.now();
    let of = people::by_id(&deeds.db, person).await?;
    let before = one_time_codes::find(&deeds.db, person).await?;
    let secret = match before {
        Some(key) if key.confirmed => return Ok(None),
        Some(key) if now.seconds_since(key.made_at) < OFFER_S => key.secret,
        _ => {
            let fresh = fresh_key()?;
            let kept =
                write::<_, StoreError, _>(&deeds.db, async |tx| one_time_codes::offer(tx, person, &fresh, now).await);
            if !kept.await? {
                return Ok(None);
            }
            fresh
        }
    };
    let key = in_base32(&secret);
    let account: String = of.email.bytes().map(in_uri).collect();
    let uri = format!("otpauth://totp/Sootmark:{account}?secret={key}&issuer=Sootmark");
    Ok(Some(Offer { key, uri }))
}

/// A byte in an address (RFC 3986).
fn in_uri(byte: u8) -> String {
    if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
        char::from(byte).to_string()
    } else {
        format!("%{byte:02X}")
    }
}

/// What comes of typing a code.
#[derive(Debug)]
pub enum WithCode<T> {
    /// Done.
    Done(T),
    /// The code is not right, or it counted before.
    Wrong,
    /// Wrong too often: again in so many seconds.
    Wait(i64),
    /// There is nothing that could be done: no key was offered, or there is one already.
    Nothing,
}

/// What somebody has who set codes up.
pub struct SetUp {
    /// Opens the new session; every earlier one has ended.
    pub session: Token,
    /// The recovery codes, to be written down now.
    pub recovery: Vec<String>,
}

/// What comes of typing the password and the first code.
pub enum WithPassword {
    /// The password is right; this comes of the code.
    Right(WithCode<SetUp>),
    /// It is not; nothing was changed.
    Wrong,
    /// Wrong too often: again in so many seconds.
    Wait(i64),
}

/// The same as [`confirm_key`] for somebody who is signed in already: whoever finds a session open must not tie its account to a
/// phone of their own.
///
/// # Errors
/// When the store does not answer, or too many passwords are hashed at once.
pub async fn confirm_with_password(
    deeds: &Deeds,
    person: PersonId,
    password: &str,
    typed: &str,
    device: Device,
) -> Result<WithPassword, ActionError> {
    let of = people::by_id(&deeds.db, person).await?;
    Ok(match verified(deeds, &of, password, person).await? {
        Verified::Right(_) => WithPassword::Right(confirm_key(deeds, person, typed, device).await?),
        Verified::Wrong(_) => WithPassword::Wrong,
        Verified::Wait(seconds) => WithPassword::Wait(seconds),
    })
}

/// Confirms the key that was offered with its first code.
///
/// # Errors
/// When the store does not answer.
pub async fn confirm_key(
    deeds: &Deeds,
    person: PersonId,
    typed: &str,
    device: Device,
) -> Result<WithCode<SetUp>, ActionError> {
    let now = deeds.clock.now();
    let Some(key) = one_time_codes::find(&deeds.db, person).await?.filter(|key| !key.confirmed) else {
        return Ok(WithCode::Nothing);
    };
    let tried = match deeds.may_try(&source(person), deeds.clock.now()).await? {
        MayTry::Now(tried) => tried,
        MayTry::In(seconds) => return Ok(WithCode::Wait(seconds)),
    };
    let Some(step) = step_of(&key.secret, typed, now) else { return Ok(WithCode::Wrong) };
    let recovery = recovery_codes(&Token::fresh()?);
    let hashes: Vec<String> = recovery.iter().map(|(_, hash)| hash.clone()).collect();
    let session = write(&deeds.db, async |tx| {
        // Another window may have offered another key meanwhile, or confirmed this one.
        let same = one_time_codes::find(tx, person).await?.is_some_and(|kept| kept == key);
        if !same || !one_time_codes::confirm(tx, person, step, now).await? {
            return Ok(None);
        }
        one_time_codes::replace_recovery(tx, person, &hashes, now).await?;
        sessions::delete_all_for_person(tx, person).await?;
        let begins = Begins { waits_for: WaitsFor::Nothing, device };
        let session = begin(tx, person, begins, now).await?;
        record::append(tx, about_person(now, Some(person), "one_time_codes_set_up", person)).await?;
        Ok::<_, ActionError>(Some(session))
    });
    let Some(session) = session.await? else {
        deeds.was_none(&tried).await?;
        return Ok(WithCode::Nothing);
    };
    deeds.was_right(&tried).await?;
    Ok(WithCode::Done(SetUp { session, recovery: recovery.into_iter().map(|(code, _)| code).collect() }))
}

/// Gives new recovery codes to who types a code; the earlier ones count no more. `click` is what the form carried: the same again
/// is the same click, with the same codes in the answer and nothing changed.
///
/// # Errors
/// When the store does not answer.
pub async fn new_recovery(
    deeds: &Deeds,
    person: PersonId,
    typed: &str,
    click: &Token,
) -> Result<WithCode<Vec<String>>, ActionError> {
    let recovery = recovery_codes(&click.derived(&format!("recovery codes of {}", person.0)));
    let hashes: Vec<String> = recovery.iter().map(|(_, hash)| hash.clone()).collect();
    let done = with_code(deeds, person, typed, "recovery_codes_made", async |tx| {
        Ok(one_time_codes::replace_recovery(tx, person, &hashes, deeds.clock.now()).await?)
    });
    let made = |recovery: Vec<(String, String)>| WithCode::Done(recovery.into_iter().map(|(code, _)| code).collect());
    Ok(match done.await? {
        WithCode::Done(()) => made(recovery),
        // The code counted for the first of two clicks.
        WithCode::Wrong if one_time_codes::has_recovery(&deeds.db, person, &hashes[0]).await? => {
            deeds.forget_wrong_tries(&source(person)).await?;
            made(recovery)
        }
        WithCode::Wrong => WithCode::Wrong,
        WithCode::Wait(seconds) => WithCode::Wait(seconds),
        WithCode::Nothing => WithCode::Nothing,
    })
}

/// Takes one's own codes away, where the role can do without them.
///
/// # Errors
/// When the store does not answer.
pub async fn remove_own(deeds: &Deeds, person: PersonId, typed: &str) -> Result<WithCode<()>, ActionError> {
    let of = people::by_id(&deeds.db, person).await?;
    if deeds.codes_required && needs_one_time_codes(of.role) {
        return Ok(WithCode::Nothing);
    }
    let removed = with_code(deeds, person, typed, "one_time_codes_removed", async |tx| {
        one_time_codes::remove(tx, person).await?;
        Ok(())
    });
    Ok(match removed.await? {
        // Of two clicks the second finds nothing: what was wanted is done.
        WithCode::Nothing => WithCode::Done(()),
        WithCode::Wrong if !one_time_codes::has_confirmed(&deeds.db, person).await? => {
            deeds.forget_wrong_tries(&source(person)).await?;
            WithCode::Done(())
        }
        other => other,
    })
}

async fn with_code(
    deeds: &Deeds,
    person: PersonId,
    typed: &str,
    deed: &str,
    work: impl for<'c> AsyncFnOnce(&'c sea_orm::DatabaseTransaction) -> Result<(), ActionError>,
) -> Result<WithCode<()>, ActionError> {
    if !one_time_codes::has_confirmed(&deeds.db, person).await? {
        return Ok(WithCode::Nothing);
    }
    let tried = match deeds.may_try(&source(person), deeds.clock.now()).await? {
        MayTry::Now(tried) => tried,
        MayTry::In(seconds) => return Ok(WithCode::Wait(seconds)),
    };
    let now = deeds.clock.now();
    let right = write(&deeds.db, async |tx| {
        if !use_code(tx, person, typed, now).await? {
            return Ok(false);
        }
        work(tx).await?;
        record::append(tx, about_person(now, Some(person), deed, person)).await?;
        Ok::<_, ActionError>(true)
    });
    if !right.await? {
        return Ok(WithCode::Wrong);
    }
    deeds.was_right(&tried).await?;
    Ok(WithCode::Done(()))
}

/// What comes of taking somebody else's codes away.
#[derive(Debug, PartialEq, Eq)]
pub enum CodesReset {
    /// Done, now or by the same click before: they are signed out, and set new ones up when they sign in, if their role needs them.
    Done,
    /// Nobody does this for themselves: a session that somebody left open would be enough.
    Own,
    /// They have none.
    None,
}

/// Takes the codes of a person away who lost phone and recovery codes; `reason` says how it is known that it is them.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person, or when the store does not answer.
pub async fn reset_codes(
    deeds: &Deeds,
    by: PersonId,
    person: PersonId,
    reason: &str,
) -> Result<CodesReset, ActionError> {
    if by == person {
        return Ok(CodesReset::Own);
    }
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        people::in_turn(tx, person).await?;
        if !one_time_codes::remove(tx, person).await? {
            let same = was_reset(tx, by, person, reason, now).await?;
            return Ok(if same { CodesReset::Done } else { CodesReset::None });
        }
        sessions::delete_all_for_person(tx, person).await?;
        let detail = json!({ "reason": reason });
        record::append(tx, about_person_with(now, Some(by), "one_time_codes_reset", person, detail)).await?;
        Ok(CodesReset::Done)
    })
    .await
}

/// Whether a moment ago the same somebody did this for the same reason.
async fn was_reset(
    tx: &impl ConnectionTrait,
    by: PersonId,
    person: PersonId,
    reason: &str,
    now: Moment,
) -> Result<bool, ActionError> {
    let entries = record::of_subject(tx, "person", person.0).await?;
    let Some(last) = entries.into_iter().rev().find(|entry| entry.deed == "one_time_codes_reset") else {
        return Ok(false);
    };
    let said: serde_json::Value = serde_json::from_str(&last.detail).unwrap_or_default();
    let a_moment_ago = now.seconds_since(last.at) < SAME_CLICK_S;
    Ok(a_moment_ago && last.actor_id == Some(by) && said["reason"] == reason)
}
