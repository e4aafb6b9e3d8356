//! That both signed an observation, and what it came to.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "observation_result")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub observation_id: ObservationId,
    pub passed: bool,
    pub missed_critical: i32,
    pub outcome: String,
    pub signed_at: Ts,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
