//! One entry about one competence of one person.

use super::prelude::*;
use crate::store::qualifications::QualificationOutcome;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "qualification")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: QualificationId,
    pub person_id: PersonId,
    pub competence_key: String,
    pub attempt_id: AttemptId,
    pub outcome: QualificationOutcome,
    pub safety_miss: bool,
    pub reason: String,
    pub valid_from: Ts,
    pub valid_until: Option<Ts>,
    pub scheme_key: String,
    pub scheme_version: i32,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
