//! What people are to do by a day, who trains whom, keys for other programs, and the addresses of calendars.
//!
//! Never changed after it was released; a later migration changes the tables.

use crate::types::{in_words_of, pick};
use sea_orm_migration::prelude::*;

/// Makes the tables of the service manager's pages.
pub(crate) struct Assignments;

impl MigrationName for Assignments {
    fn name(&self) -> &str {
        "m0008_assignments"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for Assignments {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let backend = schema.get_database_backend();
        let connection = schema.get_connection();
        connection.execute_unprepared(&in_words_of(backend, include_str!("tables.sql"))).await?;
        let append_only =
            pick(backend, include_str!("append_only.sqlite.sql"), include_str!("append_only.postgres.sql"));
        connection.execute_unprepared(append_only).await?;
        Ok(())
    }
}
