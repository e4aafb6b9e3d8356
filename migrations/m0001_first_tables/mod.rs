//! The first tables: people, the bank, attempts, what they prove, the record, the outbox.
//!
//! Never changed after it was released; a later migration changes the tables.

use crate::types::in_words_of;
use sea_orm_migration::prelude::*;

/// Makes the first tables, and the triggers that let the record only grow.
pub(crate) struct FirstTables;

impl MigrationName for FirstTables {
    fn name(&self) -> &str {
        "m0001_first_tables"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for FirstTables {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let backend = schema.get_database_backend();
        let connection = schema.get_connection();
        connection.execute_unprepared(&in_words_of(backend, include_str!("tables.sql"))).await?;
        connection
            .execute_unprepared(crate::types::pick(
                backend,
                include_str!("append_only.sqlite.sql"),
                include_str!("append_only.postgres.sql"),
            ))
            .await?;
        Ok(())
    }
}
