//! What a whole attempt was worth.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "attempt_result")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub attempt_id: AttemptId,
    pub score: f64,
    pub passed: bool,
    pub outcome: String,
    pub graded_at: Ts,
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

impl ActiveModelBehavior for ActiveModel {}
