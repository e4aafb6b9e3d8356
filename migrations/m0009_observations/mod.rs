//! Practical tasks seen at a machine: the frozen checklist, how each step was marked, and what both signed.
//!
//! Never changed after it was released; a later migration changes the tables.

use crate::types::{in_words_of, pick};
use sea_orm_migration::prelude::*;

/// Makes the tables and columns.
pub(crate) struct Observations;

impl MigrationName for Observations {
    fn name(&self) -> &str {
        "m0009_observations"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for Observations {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let backend = schema.get_database_backend();
        let connection = schema.get_connection();
        connection.execute_unprepared(&in_words_of(backend, include_str!("tables.sql"))).await?;
        connection
            .execute_unprepared(pick(
                backend,
                include_str!("append_only.sqlite.sql"),
                include_str!("append_only.postgres.sql"),
            ))
            .await?;
        Ok(())
    }
}
