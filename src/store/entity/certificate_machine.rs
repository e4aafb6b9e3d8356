//! A machine in a certificate's scope, with the version of its profile.

use super::prelude::*;

#[derive(Clone, Debug, PartialEq, DeriveEntityModel)]
#[sea_orm(table_name = "certificate_machine")]
pub struct Model {
    #[sea_orm(primary_key, auto_increment = false)]
    pub certificate_id: CertificateId,
    #[sea_orm(primary_key, auto_increment = false)]
    pub machine_key: String,
    pub machine_version: i32,
}

#[derive(Copy, Clone, Debug, EnumIter, DeriveRelation)]
pub enum Relation {}

impl ActiveModelBehavior for ActiveModel {}
