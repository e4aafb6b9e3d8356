//! From where an account was signed in to of late; by keyed hashes.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "known_place")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub place_hash: String,
    pub account_hash: String,
    pub last_at: Ts,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
