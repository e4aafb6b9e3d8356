//! The key behind somebody's one-time codes.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "one_time_key")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub person_id: PersonId,
    pub secret: Vec<u8>,
    pub made_at: Ts,
    pub confirmed_at: Option<Ts>,
    pub last_step: i64,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
