//! A person, how they sign in and how they want to read.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "person")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: PersonId,
    pub branch_id: BranchId,
    pub email: String,
    pub email_norm: String,
    pub display_name: String,
    pub name_norm: String,
    pub role: String,
    pub password_phc: Option<String>,
    pub temperature_unit: String,
    pub active: bool,
    pub scheme_key: Option<String>,
    pub created_at: Ts,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {
    #[sea_orm(belongs_to = "super::branch::Entity", from = "Column::BranchId", to = "super::branch::Column::Id")]
    Branch,
}

impl Related<super::branch::Entity> for Entity {
    fn to() -> RelationDef {
        Relation::Branch.def()
    }
}

impl ActiveModelBehavior for ActiveModel {}
