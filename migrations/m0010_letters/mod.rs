//! The key by which a letter is sent once, which letters somebody does not want, and the links that end them.
//!
//! Never changed after it was released; a later migration changes the tables.

use crate::types::in_words_of;
use sea_orm_migration::prelude::*;

/// Adds what letters need beside their words.
pub(crate) struct Letters;

impl MigrationName for Letters {
    fn name(&self) -> &str {
        "m0010_letters"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for Letters {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let sql = in_words_of(schema.get_database_backend(), include_str!("tables.sql"));
        schema.get_connection().execute_unprepared(&sql).await?;
        Ok(())
    }
}
