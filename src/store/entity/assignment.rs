//! What people are to do by a day: one person, everyone at a branch, or everyone of a role.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "assignment")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: AssignmentId,
    pub person_id: Option<PersonId>,
    pub branch_id: Option<BranchId>,
    pub role: Option<String>,
    pub kind: String,
    pub thing_key: String,
    pub due_day: String,
    pub made_by: PersonId,
    pub made_at: Ts,
    pub key: String,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
