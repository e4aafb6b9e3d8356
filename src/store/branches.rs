//! Branches: where people belong, and in which time zone they read a date.
//!
//! Never deletes one: records point at it.

use super::{BranchId, StoreError, entity::branch};
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect, prelude::*,
    sea_query::LockType,
};

/// A branch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Branch {
    /// Its number.
    pub id: BranchId,
    /// Its name, which no other branch has.
    pub name: String,
    /// Its IANA time zone, such as `Europe/Dublin`.
    pub time_zone: String,
}

impl From<branch::Model> for Branch {
    fn from(row: branch::Model) -> Self {
        Self { id: row.id, name: row.name, time_zone: row.time_zone }
    }
}

/// Adds a branch.
///
/// # Errors
/// [`super::conflict::BRANCH_NAME`] when the name is taken.
pub async fn insert(db: &impl ConnectionTrait, name: &str, time_zone: &str) -> Result<BranchId, StoreError> {
    let row =
        branch::ActiveModel { name: Set(name.to_owned()), time_zone: Set(time_zone.to_owned()), ..Default::default() };
    Ok(branch::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// Gives a branch another name and time zone.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none, [`super::conflict::BRANCH_NAME`] when another has the name.
pub async fn change(db: &impl ConnectionTrait, id: BranchId, name: &str, time_zone: &str) -> Result<(), StoreError> {
    let row = branch::ActiveModel { id: Set(id), name: Set(name.to_owned()), time_zone: Set(time_zone.to_owned()) };
    branch::Entity::update(row).exec(db).await?;
    Ok(())
}

/// The branch of this number.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn by_id(db: &impl ConnectionTrait, id: BranchId) -> Result<Branch, StoreError> {
    branch::Entity::find_by_id(id).one(db).await?.map(Branch::from).ok_or(StoreError::NotFound)
}

/// A branch that is about to be changed in this transaction.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn locked(db: &impl ConnectionTrait, id: BranchId) -> Result<Branch, StoreError> {
    let row = branch::Entity::find_by_id(id).lock(LockType::NoKeyUpdate).one(db).await?;
    row.map(Branch::from).ok_or(StoreError::NotFound)
}

/// The branch of this name, spelled as it was entered.
///
/// # Errors
/// Those of every query.
pub async fn find_by_name(db: &impl ConnectionTrait, name: &str) -> Result<Option<Branch>, StoreError> {
    Ok(branch::Entity::find().filter(branch::Column::Name.eq(name)).one(db).await?.map(Branch::from))
}

/// Every branch, by name.
///
/// # Errors
/// Those of every query.
pub async fn list(db: &impl ConnectionTrait) -> Result<Vec<Branch>, StoreError> {
    Ok(branch::Entity::find().order_by_asc(branch::Column::Name).all(db).await?.into_iter().map(Branch::from).collect())
}
