//! A lesson that a person has read.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "lesson_read")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub person_id: PersonId,
    #[sea_orm(primary_key, auto_increment = false)]
    pub module_key: String,
    #[sea_orm(primary_key, auto_increment = false)]
    pub lesson_key: String,
    pub read_at: Ts,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
