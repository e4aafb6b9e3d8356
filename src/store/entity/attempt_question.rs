//! One question of an attempt, frozen.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "attempt_question")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: i64,
    pub attempt_id: AttemptId,
    pub position: i32,
    pub template_key: String,
    pub template_version: i32,
    pub machine_key: String,
    pub machine_version: i32,
    pub model_version: i32,
    pub competence_key: String,
    pub mandatory: bool,
    pub question: String,
    pub part: i32,
    pub parts: i32,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {
    #[sea_orm(belongs_to = "super::attempt::Entity", from = "Column::AttemptId", to = "super::attempt::Column::Id")]
    Attempt,
}

impl Related<super::attempt::Entity> for Entity {
    fn to() -> RelationDef {
        Relation::Attempt.def()
    }
}

impl Related<super::response::Entity> for Entity {
    fn to() -> RelationDef {
        super::response::Relation::Question.def().rev()
    }
}

impl ActiveModelBehavior for ActiveModel {}
