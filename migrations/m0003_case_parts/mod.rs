//! Where a question stands in a case: which part it is, and of how many. A question from before stands alone.
//!
//! Never changed after it was released; a later migration changes the columns.

use crate::types::in_words_of;
use sea_orm_migration::prelude::*;

/// Adds the two columns.
pub(crate) struct CaseParts;

impl MigrationName for CaseParts {
    fn name(&self) -> &str {
        "m0003_case_parts"
    }
}

#[async_trait::async_trait]
impl MigrationTrait for CaseParts {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let sql = in_words_of(schema.get_database_backend(), include_str!("columns.sql"));
        schema.get_connection().execute_unprepared(&sql).await?;
        Ok(())
    }
}
