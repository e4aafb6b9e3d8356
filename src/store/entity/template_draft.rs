//! A draft of a scenario template.

use super::prelude::*;
use crate::store::template_drafts::DraftState;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "template_draft")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: DraftId,
    pub author_id: PersonId,
    pub key: String,
    pub base: i32,
    pub source: String,
    pub state: DraftState,
    pub revision: i32,
    pub remark: Option<String>,
    pub reviewer_id: Option<PersonId>,
    pub changed_at: Ts,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
