//! Keys with which other programs ask who is qualified. Only their hashes are kept.
//!
//! Never deletes one: who made and who revoked it stays to be seen.

use super::entity::{access_key, person};
use super::people::Person;
use super::{AccessKeyId, BranchId, PersonId, StoreError};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// What is needed to keep one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewAccessKey {
    /// SHA-256 of the key, in hexadecimal.
    pub key_hash: String,
    /// What it is for, in words.
    pub label: String,
    /// The one branch that it may ask about; all when there is none.
    pub branch_id: Option<BranchId>,
    /// Who made it.
    pub made_by: PersonId,
    /// When.
    pub made_at: Moment,
}

/// A key as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AccessKey {
    /// Its number.
    pub id: AccessKeyId,
    /// What it is.
    pub entry: NewAccessKey,
    /// When it was revoked.
    pub revoked_at: Option<Moment>,
    /// Who made it.
    pub maker: Person,
}

/// Keeps a key.
///
/// # Errors
/// [`super::conflict::REFERENCE`] when there is no such branch.
pub async fn insert(db: &impl ConnectionTrait, new: NewAccessKey) -> Result<AccessKeyId, StoreError> {
    let row = access_key::ActiveModel {
        key_hash: Set(new.key_hash),
        label: Set(new.label),
        branch_id: Set(new.branch_id),
        made_by: Set(new.made_by),
        made_at: Set(new.made_at.into()),
        revoked_by: Set(None),
        revoked_at: Set(None),
        ..Default::default()
    };
    Ok(access_key::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// Every key, the newest first.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<AccessKey>, StoreError> {
    let rows = access_key::Entity::find()
        .find_also_related(person::Entity)
        .order_by_desc(access_key::Column::Id)
        .all(db)
        .await?;
    rows.into_iter().map(|(row, maker)| whole(row, maker)).collect()
}

/// The key of this hash that nobody has revoked.
///
/// # Errors
/// Those of every query.
pub async fn find_usable(db: &impl ConnectionTrait, key_hash: &str) -> Result<Option<AccessKey>, StoreError> {
    let found = access_key::Entity::find()
        .find_also_related(person::Entity)
        .filter(access_key::Column::KeyHash.eq(key_hash))
        .filter(access_key::Column::RevokedAt.is_null())
        .one(db)
        .await?;
    found.map(|(row, maker)| whole(row, maker)).transpose()
}

/// Revokes a key. Gives whether it was usable until now.
///
/// # Errors
/// Those of every query.
pub async fn revoke(db: &impl ConnectionTrait, id: AccessKeyId, by: PersonId, now: Moment) -> Result<bool, StoreError> {
    let changed = access_key::Entity::update_many()
        .col_expr(access_key::Column::RevokedBy, Expr::val(by.0))
        .col_expr(access_key::Column::RevokedAt, Expr::val(now.0))
        .filter(access_key::Column::Id.eq(id))
        .filter(access_key::Column::RevokedAt.is_null())
        .exec(db)
        .await?;
    Ok(changed.rows_affected == 1)
}

fn whole(row: access_key::Model, maker: Option<person::Model>) -> Result<AccessKey, StoreError> {
    let maker = maker.ok_or_else(|| StoreError::Corrupt(format!("access_key {} was made by nobody", row.id)))?;
    Ok(AccessKey {
        id: row.id,
        entry: NewAccessKey {
            key_hash: row.key_hash,
            label: row.label,
            branch_id: row.branch_id,
            made_by: row.made_by,
            made_at: row.made_at.into(),
        },
        revoked_at: row.revoked_at.map(Moment::from),
        maker: maker.try_into()?,
    })
}
