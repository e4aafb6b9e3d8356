//! One-time codes: the key behind them, the codes for a lost phone, and how far somebody has come in signing in.
//!
//! Never changed after it was released; a later migration changes the tables.

use crate::types::in_words_of;
use sea_orm_migration::prelude::*;

/// Adds what signing in with a second proof needs, and from what a session was begun.
pub(crate) struct OneTimeCodes;

impl MigrationName for OneTimeCodes {
    fn name(&self) -> &str {
        "m0011_one_time_codes"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for OneTimeCodes {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let sql = in_words_of(schema.get_database_backend(), include_str!("tables.sql"));
        schema.get_connection().execute_unprepared(&sql).await?;
        Ok(())
    }
}
