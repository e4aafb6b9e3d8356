//! A time in which sittings of one scheme at one branch are watched.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "invigilation")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: InvigilationId,
    pub scheme_key: String,
    pub branch_id: BranchId,
    pub code: String,
    pub opened_by: PersonId,
    pub opened_at: Ts,
    pub expires_at: Ts,
    pub closed_by: Option<PersonId>,
    pub closed_at: Option<Ts>,
    pub key: String,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
