//! Documents.
use sea_orm::{DeriveActiveEnum, EnumIter};

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
#[derive(Clone, Copy, Debug, PartialEq, Eq, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum DocumentOrigin {
    /// A file of the question bank.
    File,
    /// A trainer's editing.
    Editor,
}

/// What a version is used for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum DocumentState {
    /// Questions are made from it.
    Published,
    /// Its author is still at it.
    Draft,
    /// It is no longer used.
    Retired,
}
