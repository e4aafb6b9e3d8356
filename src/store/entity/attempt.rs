//! One person's sitting, or one stretch of practice.

use super::prelude::*;
use crate::store::attempts::{AttemptKind, AttemptState};

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "attempt")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: AttemptId,
    pub person_id: PersonId,
    pub kind: AttemptKind,
    pub scheme_key: Option<String>,
    pub scheme_version: Option<i32>,
    pub module_key: Option<String>,
    pub seed: Vec<u8>,
    pub temperature_unit: String,
    pub state: AttemptState,
    pub started_at: Ts,
    pub deadline_at: Option<Ts>,
    pub submitted_at: Option<Ts>,
    pub submit_key: Option<String>,
    pub extra_s: i64,
    pub invigilation_id: Option<InvigilationId>,
    pub ended_by: Option<PersonId>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {
    #[sea_orm(has_one = "super::attempt_result::Entity")]
    Result,
    #[sea_orm(has_one = "super::debrief::Entity")]
    Debrief,
}

impl Related<super::attempt_result::Entity> for Entity {
    fn to() -> RelationDef {
        Relation::Result.def()
    }
}

impl Related<super::debrief::Entity> for Entity {
    fn to() -> RelationDef {
        Relation::Debrief.def()
    }
}

impl ActiveModelBehavior for ActiveModel {}
