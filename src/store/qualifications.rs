//! Qualifications.
use sea_orm::{DeriveActiveEnum, EnumIter};

/// What was decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, EnumIter, DeriveActiveEnum)]
#[sea_orm(rs_type = "String", db_type = "Text", rename_all = "snake_case")]
pub enum QualificationOutcome {
    /// May be sent to the job.
    Qualified,
    /// Not.
    Refused,
}
