//! A practical task seen at a machine, with its frozen checklist.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "observation")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: ObservationId,
    pub person_id: PersonId,
    pub assessor_id: PersonId,
    pub branch_id: BranchId,
    pub task: String,
    pub machine_key: String,
    pub machine_version: i32,
    pub model_version: i32,
    pub checklist: String,
    pub opened_at: Ts,
    pub key: String,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
