//! Something that asks for a refresher.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "refresher_trigger")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: TriggerId,
    pub person_id: PersonId,
    pub kind: String,
    pub machine_key: Option<String>,
    pub machine_version: Option<i32>,
    pub text: String,
    pub recorded_by: PersonId,
    pub recorded_at: Ts,
    pub key: String,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
