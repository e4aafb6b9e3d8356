//! More time for a person, as it was set.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "extra_time")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: i64,
    pub person_id: PersonId,
    pub percent: i32,
    pub minutes: i32,
    pub reason: String,
    pub salt: String,
    pub set_by: PersonId,
    pub set_at: Ts,
    pub key: String,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
