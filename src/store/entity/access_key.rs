//! A key with which another program asks who is qualified.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "access_key")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: AccessKeyId,
    pub key_hash: String,
    pub label: String,
    pub branch_id: Option<BranchId>,
    pub made_by: PersonId,
    pub made_at: Ts,
    pub revoked_by: Option<PersonId>,
    pub revoked_at: Option<Ts>,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {
    #[sea_orm(belongs_to = "super::person::Entity", from = "Column::MadeBy", to = "super::person::Column::Id")]
    Maker,
}

impl Related<super::person::Entity> for Entity {
    fn to() -> RelationDef {
        Relation::Maker.def()
    }
}

impl ActiveModelBehavior for ActiveModel {}
