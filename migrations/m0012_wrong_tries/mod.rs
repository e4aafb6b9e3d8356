//! Wrong tries, counted in the database, so that several servers and a restart count together.
//!
//! Never changed after it was released; a later migration changes the tables.

use crate::types::in_words_of;
use sea_orm_migration::prelude::*;

/// Adds the table of wrong tries.
pub(crate) struct WrongTries;

impl MigrationName for WrongTries {
    fn name(&self) -> &str {
        "m0012_wrong_tries"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for WrongTries {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let sql = in_words_of(schema.get_database_backend(), include_str!("tables.sql"));
        schema.get_connection().execute_unprepared(&sql).await?;
        Ok(())
    }
}
