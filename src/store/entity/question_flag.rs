//! A question that somebody wants to come back to.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "question_flag")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub attempt_id: AttemptId,
    #[sea_orm(primary_key, auto_increment = false)]
    pub position: i32,
    pub flagged_at: Ts,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
