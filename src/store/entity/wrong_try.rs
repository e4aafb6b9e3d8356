//! How often somebody, or somewhere, was wrong of late; by a keyed hash.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "wrong_try")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub source_hash: String,
    pub count: i64,
    pub last_at: Ts,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
