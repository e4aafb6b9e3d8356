//! Which lessons a person has read.
//!
//! Never un-reads one.

use super::{PersonId, StoreError, entity::lesson_read};
use crate::domain::units::Moment;
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*, sea_query::OnConflict,
};

/// A lesson that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LessonRead {
    /// Its module.
    pub module_key: String,
    /// The lesson.
    pub lesson_key: String,
    /// When it was read first.
    pub read_at: Moment,
}

/// A person has read a lesson; the first time counts.
///
/// # Errors
/// [`super::conflict::REFERENCE`] when there is no such person.
pub async fn mark_read(
    db: &impl ConnectionTrait,
    person: PersonId,
    module_key: &str,
    lesson_key: &str,
    now: Moment,
) -> Result<(), StoreError> {
    let row = lesson_read::ActiveModel {
        person_id: Set(person),
        module_key: Set(module_key.to_owned()),
        lesson_key: Set(lesson_key.to_owned()),
        read_at: Set(now.into()),
    };
    let first_counts = OnConflict::columns([
        lesson_read::Column::PersonId,
        lesson_read::Column::ModuleKey,
        lesson_read::Column::LessonKey,
    ])
    .do_nothing()
    .to_owned();
    lesson_read::Entity::insert(row).on_conflict(first_counts).exec_without_returning(db).await?;
    Ok(())
}

/// What a person has read, by module and lesson.
///
/// # Errors
/// Those of every query.
pub async fn lessons_read(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<LessonRead>, StoreError> {
    let rows = lesson_read::Entity::find()
        .filter(lesson_read::Column::PersonId.eq(person))
        .order_by_asc(lesson_read::Column::ModuleKey)
        .order_by_asc(lesson_read::Column::LessonKey)
        .all(db)
        .await?;
    let read = rows.into_iter().map(|row| LessonRead {
        module_key: row.module_key,
        lesson_key: row.lesson_key,
        read_at: row.read_at.into(),
    });
    Ok(read.collect())
}
