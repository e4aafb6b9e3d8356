//! Who is signed in where. Only hashes of tokens are kept.
//!
//! Never brings an ended session back: a request that is still under way can only change a row that is there.

use super::{
    PersonId, StoreError,
    branches::Branch,
    entity::{branch, person, session},
    people::Person,
};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// One session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// SHA-256 of the token in the cookie, in hexadecimal.
    pub token_hash: String,
    /// Whose it is.
    pub person_id: PersonId,
    /// What every form of this session carries.
    pub form_token: String,
    /// When they signed in.
    pub created_at: Moment,
    /// When they last did something.
    pub last_seen_at: Moment,
    /// When it ends by itself.
    pub expires_at: Moment,
    /// What it waits for before it opens anything.
    pub waits_for: WaitsFor,
    /// Roughly what it was begun on.
    pub device: Device,
}

/// What a session waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WaitsFor {
    /// Nothing: its person is signed in.
    Nothing,
    /// A one-time code: the password was right.
    Code,
    /// One-time codes have to be set up first: the password was right.
    SetUp,
}

impl WaitsFor {
    const ALL: [Self; 3] = [Self::Nothing, Self::Code, Self::SetUp];

    /// Its word in the database.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Code => "code",
            Self::SetUp => "set_up",
        }
    }
}

/// What somebody signed in on, as far as their browser says so itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Device {
    /// Something that is held in a hand.
    Phone,
    /// Something else with a browser.
    Computer,
    /// It did not say.
    Unknown,
}

impl Device {
    const ALL: [Self; 3] = [Self::Phone, Self::Computer, Self::Unknown];

    /// Its word in the database.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Phone => "phone",
            Self::Computer => "computer",
            Self::Unknown => "unknown",
        }
    }
}

impl TryFrom<session::Model> for Session {
    type Error = StoreError;

    fn try_from(row: session::Model) -> Result<Self, StoreError> {
        let unknown = |column: &str, word: &str| StoreError::Corrupt(format!("session.{column} is \"{word}\""));
        let waits_for = WaitsFor::ALL.into_iter().find(|one| one.id() == row.waits_for);
        let device = Device::ALL.into_iter().find(|one| one.id() == row.device);
        Ok(Self {
            waits_for: waits_for.ok_or_else(|| unknown("waits_for", &row.waits_for))?,
            device: device.ok_or_else(|| unknown("device", &row.device))?,
            token_hash: row.token_hash,
            person_id: row.person_id,
            form_token: row.form_token,
            created_at: row.created_at.into(),
            last_seen_at: row.last_seen_at.into(),
            expires_at: row.expires_at.into(),
        })
    }
}

/// A session with its person and the person's branch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SessionOfPerson {
    /// The session.
    pub session: Session,
    /// Whose it is.
    pub person: Person,
    /// Where they belong.
    pub branch: Branch,
}

/// Begins a session.
///
/// # Errors
/// [`super::conflict::REFERENCE`] when there is no such person.
pub async fn insert(db: &impl ConnectionTrait, new: Session) -> Result<(), StoreError> {
    let row = session::ActiveModel {
        token_hash: Set(new.token_hash),
        person_id: Set(new.person_id),
        form_token: Set(new.form_token),
        created_at: Set(new.created_at.into()),
        last_seen_at: Set(new.last_seen_at.into()),
        expires_at: Set(new.expires_at.into()),
        waits_for: Set(new.waits_for.id().to_owned()),
        device: Set(new.device.id().to_owned()),
    };
    session::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// The session that is not over at `now` and whose person may sign in; one query.
///
/// # Errors
/// Those of every query.
pub async fn find(
    db: &impl ConnectionTrait,
    token_hash: &str,
    now: Moment,
) -> Result<Option<SessionOfPerson>, StoreError> {
    let found = session::Entity::find_by_id(token_hash.to_owned())
        .find_also_related(person::Entity)
        .and_also_related(branch::Entity)
        .filter(session::Column::ExpiresAt.gt(now.0))
        .filter(person::Column::Active.eq(true))
        .one(db)
        .await?;
    let Some((row, Some(person), Some(branch))) = found else { return Ok(None) };
    Ok(Some(SessionOfPerson { session: row.try_into()?, person: person.try_into()?, branch: branch.into() }))
}

/// Puts off the end of a session; does nothing when it has ended meanwhile.
///
/// # Errors
/// Those of every query.
pub async fn touch(
    db: &impl ConnectionTrait,
    token_hash: &str,
    now: Moment,
    expires_at: Moment,
) -> Result<(), StoreError> {
    session::Entity::update_many()
        .col_expr(session::Column::LastSeenAt, Expr::val(now.0))
        .col_expr(session::Column::ExpiresAt, Expr::val(expires_at.0))
        .filter(session::Column::TokenHash.eq(token_hash))
        .exec(db)
        .await?;
    Ok(())
}

/// Ends one session.
///
/// # Errors
/// Those of every query.
pub async fn delete(db: &impl ConnectionTrait, token_hash: &str) -> Result<(), StoreError> {
    session::Entity::delete_by_id(token_hash.to_owned()).exec(db).await?;
    Ok(())
}

/// Ends every session of a person, as when their password or role changes; gives how many.
///
/// # Errors
/// Those of every query.
pub async fn delete_all_for_person(db: &impl ConnectionTrait, person: PersonId) -> Result<u64, StoreError> {
    let ended = session::Entity::delete_many().filter(session::Column::PersonId.eq(person)).exec(db).await?;
    Ok(ended.rows_affected)
}

/// Removes what is over at `now`; gives how many.
///
/// # Errors
/// Those of every query.
pub async fn sweep(db: &impl ConnectionTrait, now: Moment) -> Result<u64, StoreError> {
    Ok(session::Entity::delete_many().filter(session::Column::ExpiresAt.lte(now.0)).exec(db).await?.rows_affected)
}

/// Every session of a person, the oldest first.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Session>, StoreError> {
    let own = session::Entity::find().filter(session::Column::PersonId.eq(person));
    let rows = own.order_by_asc(session::Column::CreatedAt).all(db).await?;
    rows.into_iter().map(Session::try_from).collect()
}
