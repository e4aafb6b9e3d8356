//! An appeal against a refusal.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "appeal")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: i64,
    pub attempt_id: AttemptId,
    pub text: String,
    pub lodged_at: Ts,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
