//! One certificate.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "certificate")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: CertificateId,
    pub attempt_id: AttemptId,
    pub proposal_id: ProposalId,
    pub proposes: String,
    pub person_id: PersonId,
    pub scheme_key: String,
    pub scheme_version: i32,
    pub year: i32,
    pub running: i64,
    pub examined_at: Ts,
    pub valid_from: Ts,
    pub valid_until: Ts,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
