//! The second step of signing in: the one-time code after the password, or a recovery code where the phone is lost.
//!
//! Never says which of the two was wrong, and never lets one count twice.

use super::on_record::about_person;
use super::one_time_code::{recovery_hash, source, use_code};
use super::session::{Begins, begin};
use super::throttle::MayTry;
use super::{ActionError, Deeds, Token};
use crate::store::sessions::WaitsFor;
use crate::store::{one_time_codes, people, record, sessions, write};

/// What comes of it.
#[derive(Debug)]
pub enum CodeGiven {
    /// Signed in: this token opens the session.
    SignedIn(Token),
    /// No such code, or it counted before.
    Wrong,
    /// Wrong too often: again in so many seconds.
    Wait(i64),
    /// No session waits for a code here: it has ended, or got its code by another click.
    Over,
}

/// Checks what was typed after the password that began the session of `half`.
///
/// # Errors
/// When the store does not answer.
pub async fn give_code(deeds: &Deeds, half: &Token, typed: &str) -> Result<CodeGiven, ActionError> {
    let now = deeds.clock.now();
    let Some(known) = sessions::find(&deeds.db, &half.hash(), now).await? else { return Ok(CodeGiven::Over) };
    let person = known.person.id;
    let tried = match deeds.may_try(&source(person), now).await? {
        MayTry::Now(tried) => tried,
        MayTry::In(seconds) => return Ok(CodeGiven::Wait(seconds)),
    };
    let given = write(&deeds.db, async |tx| {
        // It may have ended, or got its code, in another window.
        people::in_turn(tx, person).await?;
        let still = sessions::find(tx, &half.hash(), now).await?.map(|known| known.session);
        let Some(still) = still.filter(|session| session.waits_for == WaitsFor::Code) else {
            return Ok(CodeGiven::Over);
        };
        let by_phone = use_code(tx, person, typed, now).await?;
        if !by_phone && !one_time_codes::use_recovery(tx, person, &recovery_hash(typed), now).await? {
            return Ok(CodeGiven::Wrong);
        }
        sessions::delete(tx, &half.hash()).await?;
        let begins = Begins { waits_for: WaitsFor::Nothing, device: still.device };
        let token = begin(tx, person, begins, now).await?;
        if !by_phone {
            record::append(tx, about_person(now, Some(person), "recovery_code_used", person)).await?;
        }
        Ok::<_, ActionError>(CodeGiven::SignedIn(token))
    })
    .await?;
    match given {
        CodeGiven::SignedIn(_) => tracing::info!(person = person.0, "a code was right"),
        CodeGiven::Wrong => tracing::info!(person = person.0, "a code was refused"),
        CodeGiven::Over => deeds.was_none(&tried).await?,
        CodeGiven::Wait(_) => {}
    }
    if matches!(given, CodeGiven::SignedIn(_)) {
        deeds.was_right(&tried).await?;
    }
    Ok(given)
}
