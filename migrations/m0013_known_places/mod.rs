//! From where people signed in of late, so that no stranger's wrong passwords keep them out there.
//!
//! Never changed after it was released; a later migration changes the tables.

use crate::types::in_words_of;
use sea_orm_migration::prelude::*;

/// Adds the table of known places.
pub(crate) struct KnownPlaces;

impl MigrationName for KnownPlaces {
    fn name(&self) -> &str {
        "m0013_known_places"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for KnownPlaces {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let sql = in_words_of(schema.get_database_backend(), include_str!("tables.sql"));
        schema.get_connection().execute_unprepared(&sql).await?;
        Ok(())
    }
}
