//! Sessions, as far as several deeds share them: beginning one, and recognising whose a cookie is.

use super::{ActionError, Deeds, Token};
use crate::domain::people::{Role, needs_one_time_codes};
use crate::domain::units::Moment;
use crate::store::people::Person;
use crate::store::sessions::{self, Device, Session, SessionOfPerson, WaitsFor};
use crate::store::{PersonId, StoreError, one_time_codes, write};
use sea_orm::ConnectionTrait;

/// A session ends after twelve idle hours: a shift, and the way home.
const IDLE_S: i64 = 12 * 3600;
/// And for good thirty days after it began, however it is used: a month is longer than any shift plan keeps a phone from one's
/// hands, and short enough that a lost one opens nothing for ever. Chosen by us.
const LONGEST_S: i64 = 30 * 24 * 3600;
/// Twelve hours after it began where somebody decides about others: each shift begins with a sign-in. Chosen by us.
const LONGEST_OF_WHO_DECIDES_S: i64 = 12 * 3600;
/// A session that still waits for a code, or for codes to be set up, ends after half an hour.
const HALF_S: i64 = 1800;
/// Seen again within five minutes: the row is left as it is, so that reading pages writes nothing.
const TOUCH_AFTER_S: i64 = 300;

impl Deeds {
    /// The session that a token opens, with its person and branch; `None` when it has ended or the person is suspended.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn recognise(&self, token: &Token) -> Result<Option<SessionOfPerson>, ActionError> {
        let now = self.clock.now();
        let Some(known) = sessions::find(&self.db, &token.hash(), now).await? else { return Ok(None) };
        let whole = known.session.waits_for == WaitsFor::Nothing;
        if whole && now.seconds_since(known.session.last_seen_at) >= TOUCH_AFTER_S {
            let hash = known.session.token_hash.as_str();
            let for_good = known.session.created_at.plus_seconds(longest_s(known.person.role));
            let until = Moment(now.plus_seconds(IDLE_S).0.min(for_good.0));
            let touch = async |tx: &_| sessions::touch(tx, hash, now, until).await;
            write::<_, StoreError, _>(&self.db, touch).await?;
        }
        Ok(Some(known))
    }

    /// Removes sessions that have ended; gives how many.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn sweep_sessions(&self) -> Result<u64, ActionError> {
        let now = self.clock.now();
        Ok(write::<_, StoreError, _>(&self.db, async |tx| sessions::sweep(tx, now).await).await?)
    }
}

/// Seconds after which a session ends for good.
const fn longest_s(role: Role) -> i64 {
    if needs_one_time_codes(role) { LONGEST_OF_WHO_DECIDES_S } else { LONGEST_S }
}

/// How a session begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Begins {
    /// What it waits for.
    pub(super) waits_for: WaitsFor,
    /// On what.
    pub(super) device: Device,
}

/// What the session of somebody waits for whose password was right.
pub(super) async fn waits_for(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    person: &Person,
) -> Result<WaitsFor, StoreError> {
    if one_time_codes::has_confirmed(tx, person.id).await? {
        return Ok(WaitsFor::Code);
    }
    let needed = deeds.codes_required && needs_one_time_codes(person.role);
    Ok(if needed { WaitsFor::SetUp } else { WaitsFor::Nothing })
}

/// Begins a session inside a deed's transaction.
pub(super) async fn begin(
    tx: &impl ConnectionTrait,
    person: PersonId,
    begins: Begins,
    now: Moment,
) -> Result<Token, ActionError> {
    let lasts = if begins.waits_for == WaitsFor::Nothing { IDLE_S } else { HALF_S };
    let token = Token::fresh()?;
    let session = Session {
        token_hash: token.hash(),
        person_id: person,
        form_token: Token::fresh()?.as_str().to_owned(),
        created_at: now,
        last_seen_at: now,
        expires_at: now.plus_seconds(lasts),
        waits_for: begins.waits_for,
        device: begins.device,
    };
    sessions::insert(tx, session).await?;
    Ok(token)
}
