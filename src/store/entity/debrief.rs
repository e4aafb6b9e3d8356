//! A talk with the trainer about an attempt.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "debrief")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: i64,
    pub attempt_id: AttemptId,
    pub trainer_id: PersonId,
    pub note: String,
    pub held_at: Ts,
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
