//! What trainers are writing: drafts of scenario templates on their way to publication.
//!
//! Never changed after it was released; a later migration changes the table.

use crate::types::in_words_of;
use sea_orm_migration::prelude::*;

/// Makes the table of drafts.
pub(crate) struct TemplateDrafts;

impl MigrationName for TemplateDrafts {
    fn name(&self) -> &str {
        "m0002_template_drafts"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for TemplateDrafts {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let sql = in_words_of(schema.get_database_backend(), include_str!("tables.sql"));
        schema.get_connection().execute_unprepared(&sql).await?;
        Ok(())
    }
}
