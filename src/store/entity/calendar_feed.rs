//! The secret address of a service manager's calendar, by its hash.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "calendar_feed")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub person_id: PersonId,
    pub token_hash: String,
    pub made_at: Ts,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
