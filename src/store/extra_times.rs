//! More time in examinations, person by person: the newest one counts.
//!
//! Never puts a reason anywhere but where it is asked for by name: it is personal. Never changes one; only the reason can be
//! blanked, with the salt that ties it to the record.

use super::{PersonId, RecordEntryId, StoreError, entity::extra_time};
use crate::domain::examination::extra_time::ExtraTime;
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*, sea_query::Expr};

/// What is needed to set it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewExtraTime {
    /// For whom.
    pub person_id: PersonId,
    /// How much.
    pub extra: ExtraTime,
    /// Why; empty once it was blanked.
    pub reason: String,
    /// What is hashed before the reason for the record, so that a short reason cannot be guessed from its hash.
    pub salt: String,
    /// Who set it.
    pub set_by: PersonId,
    /// When.
    pub set_at: Moment,
    /// What the form carried: the same again is the same click.
    pub key: String,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

impl TryFrom<extra_time::Model> for NewExtraTime {
    type Error = StoreError;

    fn try_from(row: extra_time::Model) -> Result<Self, StoreError> {
        let number = |number: i32| u16::try_from(number).ok();
        let extra = number(row.percent).zip(number(row.minutes)).and_then(|(p, m)| ExtraTime::of(p, m));
        let extra = extra.ok_or_else(|| StoreError::Corrupt(format!("extra_time {} is out of range", row.id)))?;
        Ok(Self {
            person_id: row.person_id,
            extra,
            reason: row.reason,
            salt: row.salt,
            set_by: row.set_by,
            set_at: row.set_at.into(),
            key: row.key,
            record_entry_id: row.record_entry_id,
        })
    }
}

/// Sets it.
///
/// # Errors
/// [`super::conflict::EXTRA_TIME`] when the same click has set it already.
pub async fn append(db: &impl ConnectionTrait, new: NewExtraTime) -> Result<(), StoreError> {
    let (percent, minutes) = new.extra.numbers();
    let row = extra_time::ActiveModel {
        person_id: Set(new.person_id),
        percent: Set(percent.into()),
        minutes: Set(minutes.into()),
        reason: Set(new.reason),
        salt: Set(new.salt),
        set_by: Set(new.set_by),
        set_at: Set(new.set_at.into()),
        key: Set(new.key),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    extra_time::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// Everything that was set for a person, newest first.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<NewExtraTime>, StoreError> {
    let own = extra_time::Entity::find().filter(extra_time::Column::PersonId.eq(person));
    own.order_by_desc(extra_time::Column::Id).all(db).await?.into_iter().map(NewExtraTime::try_from).collect()
}

/// How much more time a person gets now.
///
/// # Errors
/// Those of every query.
pub async fn counts_for(db: &impl ConnectionTrait, person: PersonId) -> Result<ExtraTime, StoreError> {
    Ok(of_person(db, person).await?.first().map(|newest| newest.extra).unwrap_or_default())
}

/// Everything that was set for everyone, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<NewExtraTime>, StoreError> {
    let rows = extra_time::Entity::find().order_by_asc(extra_time::Column::Id).all(db).await?;
    rows.into_iter().map(NewExtraTime::try_from).collect()
}

/// Blanks every reason of a person, with its salt; says how many there were.
///
/// # Errors
/// Those of every query.
pub async fn forget_reasons(db: &impl ConnectionTrait, person: PersonId) -> Result<u64, StoreError> {
    let done = extra_time::Entity::update_many()
        .col_expr(extra_time::Column::Reason, Expr::value(""))
        .col_expr(extra_time::Column::Salt, Expr::value(""))
        .filter(extra_time::Column::PersonId.eq(person))
        .filter(extra_time::Column::Reason.ne(""))
        .exec(db)
        .await?;
    Ok(done.rows_affected)
}
