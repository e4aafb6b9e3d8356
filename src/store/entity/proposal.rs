//! What the rules propose after a sitting.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "proposal")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: ProposalId,
    pub attempt_id: AttemptId,
    pub person_id: PersonId,
    pub scheme_key: String,
    pub scheme_version: i32,
    pub proposes: String,
    pub safety_miss: bool,
    pub grounds: String,
    pub competences: String,
    pub machines: String,
    pub examined_at: Ts,
    pub valid_until: Ts,
    pub made_at: Ts,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
