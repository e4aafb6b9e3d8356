//! Named values of the whole installation: the bank's revision, the server's key, the demo's marker.
//!
//! Never a person's settings, and never what the configuration file says.

use super::{StoreError, entity::setting};
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, sea_query::OnConflict};

/// The name under which a demo says that it is one.
pub const DEMO: &str = "demo";

/// The value of this name.
///
/// # Errors
/// Those of every query.
pub async fn find(db: &impl ConnectionTrait, key: &str) -> Result<Option<String>, StoreError> {
    Ok(setting::Entity::find_by_id(key.to_owned()).one(db).await?.map(|row| row.value))
}

/// Sets the value of this name.
///
/// # Errors
/// Those of every query.
pub async fn set(db: &impl ConnectionTrait, key: &str, value: &str) -> Result<(), StoreError> {
    let replace = OnConflict::column(setting::Column::Key).update_column(setting::Column::Value).to_owned();
    setting::Entity::insert(row(key, value)).on_conflict(replace).exec_without_returning(db).await?;
    Ok(())
}

/// Sets the value of this name unless it has one; gives the one it has now. Several servers may race for it.
///
/// # Errors
/// Those of every query.
pub async fn find_or_set(db: &impl ConnectionTrait, key: &str, value: &str) -> Result<String, StoreError> {
    let keep = OnConflict::column(setting::Column::Key).do_nothing().to_owned();
    setting::Entity::insert(row(key, value)).on_conflict(keep).exec_without_returning(db).await?;
    find(db, key).await?.ok_or(StoreError::NotFound)
}

fn row(key: &str, value: &str) -> setting::ActiveModel {
    setting::ActiveModel { key: Set(key.to_owned()), value: Set(value.to_owned()) }
}
