//! Drafts of scenario templates: what a trainer is writing, and where it stands on its way to publication.
//!
//! Never judges a text and never decides who may review it. Never deletes a draft.

use super::{DraftId, PersonId, StoreError, entity::template_draft};
use crate::domain::units::Moment;
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, DeriveActiveEnum, EntityTrait, EnumIter, QueryFilter, QueryOrder, QuerySelect,
    Select, prelude::*,
};

/// Where a draft stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum DraftState {
    /// Its author is at it.
    Writing,
    /// It waits for another trainer; its text stands still.
    InReview,
    /// It has become a version of the template.
    Published,
    /// Its author does not want it any more.
    Dropped,
}

/// A draft.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draft {
    /// Its number.
    pub id: DraftId,
    /// Who writes it.
    pub author_id: PersonId,
    /// The template's name as typed so far; may be empty.
    pub key: String,
    /// The version that it started from; 0 for a new template.
    pub base: i32,
    /// Its text.
    pub source: String,
    /// Where it stands.
    pub state: DraftState,
    /// Grows with every change, so that a second window does not write over the first unseen.
    pub revision: i32,
    /// What the last reviewer said.
    pub remark: Option<String>,
    /// Who that was.
    pub reviewer_id: Option<PersonId>,
    /// When it was changed last.
    pub changed_at: Moment,
}

impl From<template_draft::Model> for Draft {
    fn from(row: template_draft::Model) -> Self {
        Self {
            id: row.id,
            author_id: row.author_id,
            key: row.key,
            base: row.base,
            source: row.source,
            state: row.state,
            revision: row.revision,
            remark: row.remark,
            reviewer_id: row.reviewer_id,
            changed_at: row.changed_at.into(),
        }
    }
}

/// Begins a draft. `now` is when.
///
/// # Errors
/// Those of every write.
pub async fn insert(
    db: &impl ConnectionTrait,
    author: PersonId,
    key: &str,
    base: i32,
    source: &str,
    now: Moment,
) -> Result<DraftId, StoreError> {
    let row = template_draft::ActiveModel {
        author_id: Set(author),
        key: Set(key.to_owned()),
        base: Set(base),
        source: Set(source.to_owned()),
        state: Set(DraftState::Writing),
        revision: Set(1),
        changed_at: Set(now.into()),
        ..Default::default()
    };
    Ok(template_draft::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// Keeps a changed draft: everything but its author. The caller has read it with [`locked`] in the same transaction.
///
/// # Errors
/// Those of every write.
pub async fn update(db: &impl ConnectionTrait, draft: &Draft) -> Result<(), StoreError> {
    let row = template_draft::ActiveModel {
        id: Set(draft.id),
        key: Set(draft.key.clone()),
        base: Set(draft.base),
        source: Set(draft.source.clone()),
        state: Set(draft.state),
        revision: Set(draft.revision),
        remark: Set(draft.remark.clone()),
        reviewer_id: Set(draft.reviewer_id),
        changed_at: Set(draft.changed_at.into()),
        ..Default::default()
    };
    template_draft::Entity::update(row).exec(db).await?;
    Ok(())
}

/// A draft.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn by_id(db: &impl ConnectionTrait, id: DraftId) -> Result<Draft, StoreError> {
    one(template_draft::Entity::find_by_id(id), db).await
}

/// A draft that is about to be changed in this transaction.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn locked(db: &impl ConnectionTrait, id: DraftId) -> Result<Draft, StoreError> {
    one(template_draft::Entity::find_by_id(id).lock_exclusive(), db).await
}

/// The draft of a template that somebody is writing already.
///
/// # Errors
/// Those of every query.
pub async fn find_writing(db: &impl ConnectionTrait, author: PersonId, key: &str) -> Result<Option<Draft>, StoreError> {
    let row = in_state(DraftState::Writing)
        .filter(template_draft::Column::AuthorId.eq(author))
        .filter(template_draft::Column::Key.eq(key))
        .one(db)
        .await?;
    Ok(row.map(Draft::from))
}

/// Every draft that somebody is writing or has sent to review, by name.
///
/// # Errors
/// Those of every query.
pub async fn open_of(db: &impl ConnectionTrait, author: PersonId) -> Result<Vec<Draft>, StoreError> {
    let open = template_draft::Entity::find()
        .filter(template_draft::Column::AuthorId.eq(author))
        .filter(template_draft::Column::State.is_in([DraftState::Writing, DraftState::InReview]))
        .order_by_asc(template_draft::Column::Key);
    all(open, db).await
}

/// Every draft that waits for a review, by name.
///
/// # Errors
/// Those of every query.
pub async fn in_review(db: &impl ConnectionTrait) -> Result<Vec<Draft>, StoreError> {
    all(in_state(DraftState::InReview), db).await
}

fn in_state(state: DraftState) -> Select<template_draft::Entity> {
    template_draft::Entity::find()
        .filter(template_draft::Column::State.eq(state))
        .order_by_asc(template_draft::Column::Key)
        .order_by_asc(template_draft::Column::Id)
}

async fn one(select: Select<template_draft::Entity>, db: &impl ConnectionTrait) -> Result<Draft, StoreError> {
    select.one(db).await?.map(Draft::from).ok_or(StoreError::NotFound)
}

async fn all(select: Select<template_draft::Entity>, db: &impl ConnectionTrait) -> Result<Vec<Draft>, StoreError> {
    Ok(select.all(db).await?.into_iter().map(Draft::from).collect())
}

/// Every draft of an author, whatever became of it.
///
/// # Errors
/// Those of every query.
pub async fn all_of(db: &impl ConnectionTrait, author: PersonId) -> Result<Vec<Draft>, StoreError> {
    let own = template_draft::Entity::find().filter(template_draft::Column::AuthorId.eq(author));
    all(own.order_by_asc(template_draft::Column::Id), db).await
}
