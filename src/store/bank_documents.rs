//! The source texts of the bank, version by version.
//!
//! Never changes a text: a change is a new version. Never reads what a text says.

use super::{DocumentId, PersonId, StoreError, entity::bank_document};
use crate::domain::units::Moment;
use sea_orm::{
    ActiveValue::Set,
    Condition, ConnectionTrait, DeriveActiveEnum, EntityTrait, EnumIter, ExprTrait, QueryFilter, QueryOrder, Select,
    prelude::*,
    sea_query::{Func, Query, SelectStatement},
};

/// What a document describes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum DocumentKind {
    /// A machine profile.
    Machine,
    /// The list of competences.
    Competences,
    /// A module.
    Module,
    /// A lesson.
    Lesson,
    /// A scheme.
    Scheme,
    /// A scenario template.
    Template,
}

/// Where a version came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum DocumentOrigin {
    /// A file of the question bank.
    File,
    /// A trainer's editing.
    Editor,
}

/// What a version is used for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum DocumentState {
    /// Questions are made from it.
    Published,
    /// Its author is still at it.
    Draft,
    /// It is no longer used.
    Retired,
}

/// One version of a document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Document {
    /// Its number.
    pub id: DocumentId,
    /// What it describes.
    pub kind: DocumentKind,
    /// Which machine, module, template ... of that kind.
    pub key: String,
    /// Counts from 1.
    pub version: i32,
    /// The text, byte by byte as it was given.
    pub source: String,
    /// SHA-256 of the text, in hexadecimal.
    pub sha256: String,
    /// Where it came from.
    pub origin: DocumentOrigin,
    /// What it is used for.
    pub state: DocumentState,
    /// Who wrote it, when it was written here.
    pub author_id: Option<PersonId>,
    /// When it came.
    pub created_at: Moment,
}

/// What is needed to add a version.
#[derive(Clone, Debug)]
pub struct NewDocument {
    /// What it describes.
    pub kind: DocumentKind,
    /// Which of that kind.
    pub key: String,
    /// From [`next_version`], or the caller's own.
    pub version: i32,
    /// The text.
    pub source: String,
    /// SHA-256 of the text, in hexadecimal.
    pub sha256: String,
    /// Where it came from.
    pub origin: DocumentOrigin,
    /// What it is used for.
    pub state: DocumentState,
    /// Who wrote it, when it was written here.
    pub author_id: Option<PersonId>,
    /// Now.
    pub created_at: Moment,
}

impl From<bank_document::Model> for Document {
    fn from(row: bank_document::Model) -> Self {
        Self {
            id: row.id,
            kind: row.kind,
            key: row.key,
            version: row.version,
            source: row.source,
            sha256: row.sha256,
            origin: row.origin,
            state: row.state,
            author_id: row.author_id,
            created_at: row.created_at.into(),
        }
    }
}

/// Adds a version.
///
/// # Errors
/// [`super::conflict::DOCUMENT_VERSION`] when this version exists: somebody else was faster.
pub async fn insert(db: &impl ConnectionTrait, new: NewDocument) -> Result<DocumentId, StoreError> {
    let row = bank_document::ActiveModel {
        kind: Set(new.kind),
        key: Set(new.key),
        version: Set(new.version),
        source: Set(new.source),
        sha256: Set(new.sha256),
        origin: Set(new.origin),
        state: Set(new.state),
        author_id: Set(new.author_id),
        created_at: Set(new.created_at.into()),
        ..Default::default()
    };
    Ok(bank_document::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// The version that the next change of this document has.
///
/// # Errors
/// Those of every query.
pub async fn next_version(db: &impl ConnectionTrait, kind: DocumentKind, key: &str) -> Result<i32, StoreError> {
    let newest = of_key(kind, key).order_by_desc(bank_document::Column::Version).one(db).await?;
    Ok(newest.map_or(1, |row| row.version + 1))
}

/// Publishes, or retires, a version; its text stays.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such version.
pub async fn set_state(db: &impl ConnectionTrait, id: DocumentId, state: DocumentState) -> Result<(), StoreError> {
    let row = bank_document::ActiveModel { id: Set(id), state: Set(state), ..Default::default() };
    bank_document::Entity::update(row).exec(db).await?;
    Ok(())
}

/// This version of this document.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn by_version(
    db: &impl ConnectionTrait,
    kind: DocumentKind,
    key: &str,
    version: i32,
) -> Result<Document, StoreError> {
    let row = of_key(kind, key).filter(bank_document::Column::Version.eq(version)).one(db).await?;
    row.map(Document::from).ok_or(StoreError::NotFound)
}

/// Every version of a document, newest first.
///
/// # Errors
/// Those of every query.
pub async fn versions(db: &impl ConnectionTrait, kind: DocumentKind, key: &str) -> Result<Vec<Document>, StoreError> {
    all(of_key(kind, key).order_by_desc(bank_document::Column::Version), db).await
}

/// Every version of every document, by kind, key and version.
///
/// # Errors
/// Those of every query.
pub async fn every_version(db: &impl ConnectionTrait) -> Result<Vec<Document>, StoreError> {
    let by_key = bank_document::Entity::find()
        .order_by_asc(bank_document::Column::Kind)
        .order_by_asc(bank_document::Column::Key)
        .order_by_asc(bank_document::Column::Version);
    all(by_key, db).await
}

/// The version of a document that is in use: the newest, unless the document is retired.
///
/// # Errors
/// Those of every query.
pub async fn find_latest_published(
    db: &impl ConnectionTrait,
    kind: DocumentKind,
    key: &str,
) -> Result<Option<Document>, StoreError> {
    let row = of_key(kind, key)
        .filter(bank_document::Column::State.ne(DocumentState::Draft))
        .order_by_desc(bank_document::Column::Version)
        .one(db)
        .await?;
    Ok(row.map(Document::from).filter(|newest| newest.state == DocumentState::Published))
}

/// The version in use of every document of a kind, by key.
///
/// # Errors
/// Those of every query.
pub async fn latest_published_of_kind(
    db: &impl ConnectionTrait,
    kind: DocumentKind,
) -> Result<Vec<Document>, StoreError> {
    all(standing(DocumentState::Published).filter(bank_document::Column::Kind.eq(kind)), db).await
}

/// The version in use of every document, by kind and key.
///
/// # Errors
/// Those of every query.
pub async fn all_latest_published(db: &impl ConnectionTrait) -> Result<Vec<Document>, StoreError> {
    all(standing(DocumentState::Published), db).await
}

/// The newest version of every document of a kind that is retired, by key.
///
/// # Errors
/// Those of every query.
pub async fn retired_of_kind(db: &impl ConnectionTrait, kind: DocumentKind) -> Result<Vec<Document>, StoreError> {
    all(standing(DocumentState::Retired).filter(bank_document::Column::Kind.eq(kind)), db).await
}

/// The newest version that came from a file, of every document, whatever its state.
///
/// # Errors
/// Those of every query.
pub async fn latest_from_files(db: &impl ConnectionTrait) -> Result<Vec<Document>, StoreError> {
    let from_file = Expr::col(("newest", bank_document::Column::Origin)).eq(DocumentOrigin::File.to_value());
    all(newest_where(from_file).filter(bank_document::Column::Origin.eq(DocumentOrigin::File)), db).await
}

/// Of every document the newest version, where it has this state. Drafts do not count.
fn standing(state: DocumentState) -> Select<bank_document::Entity> {
    let counts = Expr::col(("newest", bank_document::Column::State)).ne(DocumentState::Draft.to_value());
    newest_where(counts).filter(bank_document::Column::State.eq(state))
}

fn of_key(kind: DocumentKind, key: &str) -> Select<bank_document::Entity> {
    bank_document::Entity::find()
        .filter(bank_document::Column::Kind.eq(kind))
        .filter(bank_document::Column::Key.eq(key))
}

/// Of every document the newest among the versions that count; `counts` calls their table "newest".
fn newest_where(counts: Expr) -> Select<bank_document::Entity> {
    use bank_document::{Column, Entity};
    let newest: SelectStatement = Query::select()
        .expr(Func::max(Expr::col(("newest", Column::Version))))
        .from_as(Entity, "newest")
        .cond_where(
            Condition::all()
                .add(Expr::col(("newest", Column::Kind)).equals((Entity, Column::Kind)))
                .add(Expr::col(("newest", Column::Key)).equals((Entity, Column::Key)))
                .add(counts),
        )
        .to_owned();
    Entity::find()
        .filter(Expr::col((Entity, Column::Version)).in_subquery(newest))
        .order_by_asc(Column::Kind)
        .order_by_asc(Column::Key)
}

async fn all(select: Select<bank_document::Entity>, db: &impl ConnectionTrait) -> Result<Vec<Document>, StoreError> {
    Ok(select.all(db).await?.into_iter().map(Document::from).collect())
}

/// The number of the newest document; 0 when there is none. It grows with every change of the bank.
///
/// # Errors
/// Those of every query.
pub async fn newest_id(db: &impl ConnectionTrait) -> Result<i64, StoreError> {
    let newest = bank_document::Entity::find().order_by_desc(bank_document::Column::Id).one(db).await?;
    Ok(newest.map_or(0, |row| row.id.0))
}
