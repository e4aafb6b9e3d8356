//! One entry of the chained record.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "record_entry")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: RecordEntryId,
    pub at: Ts,
    pub actor_id: Option<PersonId>,
    pub deed: String,
    pub subject_kind: String,
    pub subject_id: Option<i64>,
    pub detail: String,
    pub prev_hash: String,
    pub hash: String,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
