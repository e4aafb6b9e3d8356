//! How one step of an observation was marked last.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "observation_step")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub observation_id: ObservationId,
    #[sea_orm(primary_key, auto_increment = false)]
    pub position: i32,
    pub mark: String,
    pub remark: String,
    pub saved_at: Ts,
    pub revision: i32,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
