//! A kind of letters that somebody does not want.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "letter_refusal")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub person_id: PersonId,
    #[sea_orm(primary_key, auto_increment = false)]
    pub kind: String,
    pub refused_at: Ts,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
