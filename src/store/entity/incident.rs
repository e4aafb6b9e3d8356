//! Something that whoever watched wrote down about a sitting.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "incident")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: i64,
    pub attempt_id: AttemptId,
    pub kind: String,
    pub text: String,
    pub noted_by: PersonId,
    pub noted_at: Ts,
    pub key: String,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
