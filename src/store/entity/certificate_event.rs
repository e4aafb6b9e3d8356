//! Something that was done to a certificate.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "certificate_event")]
pub struct Model {
    #[sea_orm(primary_key)]
    pub id: i64,
    pub certificate_id: CertificateId,
    pub kind: String,
    pub reason: String,
    pub done_by: Option<PersonId>,
    pub at: Ts,
    pub record_entry_id: RecordEntryId,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
