//! Who was named as somebody's trainer, one row each time.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "named_trainer")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: i64,
    pub person_id: PersonId,
    pub trainer_id: Option<PersonId>,
    pub named_by: PersonId,
    pub named_at: Ts,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
