//! What was answered, saved answer by answer.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "response")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: i64,
    pub attempt_id: AttemptId,
    pub position: i32,
    pub answer: String,
    pub saved_at: Ts,
    pub revision: i32,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {
    #[sea_orm(
        belongs_to = "super::attempt_question::Entity",
        from = "(Column::AttemptId, Column::Position)",
        to = "(super::attempt_question::Column::AttemptId, super::attempt_question::Column::Position)"
    )]
    Question,
}

impl ActiveModelBehavior for ActiveModel {}
