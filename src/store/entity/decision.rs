//! A decision on a proposal.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "decision")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: i64,
    pub attempt_id: AttemptId,
    pub proposal_id: ProposalId,
    pub proposes: String,
    pub outcome: String,
    pub reason: String,
    pub decided_by: Option<PersonId>,
    pub decided_at: Ts,
    pub key: String,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
