//! That an assignment no longer counts, and why.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "assignment_withdrawal")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub assignment_id: AssignmentId,
    pub reason: String,
    pub withdrawn_by: PersonId,
    pub withdrawn_at: Ts,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
