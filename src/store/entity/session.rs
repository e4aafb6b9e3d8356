//! Somebody signed in somewhere.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "session")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub token_hash: String,
    pub person_id: PersonId,
    pub form_token: String,
    pub created_at: Ts,
    pub last_seen_at: Ts,
    pub expires_at: Ts,
    pub waits_for: String,
    pub device: String,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {
    #[sea_orm(belongs_to = "super::person::Entity", from = "Column::PersonId", to = "super::person::Column::Id")]
    Person,
}

impl Related<super::person::Entity> for Entity {
    fn to() -> RelationDef {
        Relation::Person.def()
    }
}

impl ActiveModelBehavior for ActiveModel {}
