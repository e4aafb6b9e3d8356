//! One version of one source text of the bank.

use super::prelude::*;
use crate::store::bank_documents::{DocumentKind, DocumentOrigin, DocumentState};

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "bank_document")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: DocumentId,
    pub kind: DocumentKind,
    pub key: String,
    pub version: i32,
    pub source: String,
    pub sha256: String,
    pub origin: DocumentOrigin,
    pub state: DocumentState,
    pub author_id: Option<PersonId>,
    pub created_at: Ts,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
