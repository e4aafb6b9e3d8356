//! Changing one's own password.

use super::on_record::about_person;
use super::own_password::{Verified, verified};
use super::{ActionError, Deeds, Token, session};
use crate::domain::people::{EmailAddress, PasswordProblem, PersonName, check_password};
use crate::store::sessions::{Device, WaitsFor};
use crate::store::{PersonId, StoreError, people, record, sessions, write};

/// What comes of it.
#[derive(Debug)]
pub enum PasswordChange {
    /// Done. Every session of the person has ended; this token opens the new one.
    Changed(Token),
    /// Another click has changed it while this one was checked; the session in which both were sent has ended with that.
    Meanwhile,
    /// The old password was not right.
    WrongOld,
    /// It was wrong too often: try again in so many seconds.
    Wait {
        /// Seconds from now.
        seconds: i64,
    },
    /// The new one is not taken.
    Unfit(PasswordProblem),
}

/// Gives a person a new password in place of the old one, and signs them out everywhere else. `session` is the hash of the session
/// in which they ask for it.
///
/// # Errors
/// When the store does not answer, or too many passwords are hashed at once.
pub async fn change_password(
    deeds: &Deeds,
    person: PersonId,
    (old, new): (&str, &str),
    session: &str,
    device: Device,
) -> Result<PasswordChange, ActionError> {
    let of = people::by_id(&deeds.db, person).await?;
    let kept = match verified(deeds, &of, old, person).await? {
        Verified::Right(kept) => kept,
        // The session ended with the change that another click has made: the old password is wrong since then.
        Verified::Wrong(tried) if sessions::find(&deeds.db, session, deeds.clock.now()).await?.is_none() => {
            deeds.was_none(&tried).await?;
            return Ok(PasswordChange::Meanwhile);
        }
        Verified::Wrong(_) => return Ok(PasswordChange::WrongOld),
        Verified::Wait(seconds) => return Ok(PasswordChange::Wait { seconds }),
    };
    if let Err(problem) = fits(&of.display_name, &of.email, new)? {
        return Ok(PasswordChange::Unfit(problem));
    }
    let phc = deeds.hashing.hash(new.to_owned()).await?;
    let now = deeds.clock.now();
    let token = write(&deeds.db, async |tx| {
        people::in_turn(tx, person).await?;
        if people::find_password_phc(tx, person).await? != kept {
            return Ok(None);
        }
        people::set_password(tx, person, &phc).await?;
        sessions::delete_all_for_person(tx, person).await?;
        let begins = session::Begins { waits_for: WaitsFor::Nothing, device };
        let token = session::begin(tx, person, begins, now).await?;
        record::append(tx, about_person(now, Some(person), "password_changed", person)).await?;
        Ok::<_, ActionError>(Some(token))
    });
    Ok(token.await?.map_or(PasswordChange::Meanwhile, PasswordChange::Changed))
}

/// Whether a password fits a person whose name and address the store holds.
pub(super) fn fits(name: &str, email: &str, password: &str) -> Result<Result<(), PasswordProblem>, StoreError> {
    let corrupt = |_| StoreError::Corrupt("a person's address does not read back".to_owned());
    let (name, email) = (PersonName::kept(name), EmailAddress::parse(email).map_err(corrupt)?);
    Ok(check_password(password, &name, &email).and_then(|()| hard_to_guess(password, &name, &email)))
}

/// Characters that are weighed: the weighing takes longer than in proportion, and so many are enough to say that they are many.
const WEIGHED: usize = 100;

/// Whether a guesser who knows the person needs more than some ten million tries. Source: zxcvbn (Wheeler, USENIX Security 2016)
/// estimates them; its score 2 begins where guessing over the net, slowed down as it is here, becomes hopeless.
fn hard_to_guess(password: &str, name: &PersonName, email: &EmailAddress) -> Result<(), PasswordProblem> {
    let weighed: String = password.chars().take(WEIGHED).collect();
    let folded = email.folded();
    let mut known: Vec<&str> = name.as_str().split(' ').collect();
    known.extend(folded.split(['@', '.', '-', '_', '+']));
    known.extend([name.as_str(), folded.as_str(), "sootmark"]);
    let easy = zxcvbn::zxcvbn(&weighed, &known).score() < zxcvbn::Score::Two;
    if easy { Err(PasswordProblem::Guessable) } else { Ok(()) }
}
