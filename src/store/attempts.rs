//! Attempts.
use sea_orm::{DeriveActiveEnum, EnumIter};

/// What an attempt is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum AttemptKind {
    /// To learn: each answer is explained at once.
    Practice,
    /// To be examined.
    Examination,
}

/// Where an attempt stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum AttemptState {
    /// Answers are saved.
    Open,
    /// Handed in by the person.
    Submitted,
    /// Handed in by the clock.
    Expired,
}
