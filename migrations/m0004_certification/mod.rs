//! Proposals, decisions, appeals, certificates with their events, and what makes a refresher necessary.
//!
//! Carries the qualifications of before over as certificates granted by rule: nobody had decided about them. Never changed
//! after it was released; a later migration changes the tables.

use crate::types::{in_words_of, pick};
use sea_orm_migration::prelude::*;

/// Makes the tables of certification.
pub(crate) struct Certification;

impl MigrationName for Certification {
    fn name(&self) -> &str {
        "m0004_certification"
    }
}

/// The year of a moment in UTC.
const YEAR: (&str, &str) = (
    "CAST(strftime('%Y', q.at / 1000000, 'unixepoch') AS INTEGER)",
    "CAST(extract(year FROM to_timestamp(q.at / 1000000.0) AT TIME ZONE 'UTC') AS INTEGER)",
);

#[async_trait::async_trait]
impl MigrationTrait for Certification {
    fn use_transaction(&self) -> Option<bool> {
        Some(true)
    }

    async fn up(&self, schema: &SchemaManager) -> Result<(), DbErr> {
        let backend = schema.get_database_backend();
        let connection = schema.get_connection();
        connection.execute_unprepared(&in_words_of(backend, include_str!("tables.sql"))).await?;
        let granted = include_str!("granted_by_rule.sql").replace("{year}", pick(backend, YEAR.0, YEAR.1));
        connection.execute_unprepared(&granted.replace("{no}", pick(backend, "0", "FALSE"))).await?;
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
