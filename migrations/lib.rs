//! The database schema of Sootmark, step by step, for SQLite and PostgreSQL.
//!
//! A migration that was released is never changed; it runs in a transaction on both databases, so that a half-made
//! schema cannot be left behind. Never reads or writes what people entered, except to carry it to a new shape.

mod m0001_first_tables;
mod m0002_template_drafts;
mod m0003_case_parts;
mod m0004_certification;
mod m0005_sittings;
mod m0008_assignments;
mod m0009_observations;
mod m0010_letters;
mod m0011_one_time_codes;
mod m0012_wrong_tries;
mod m0013_known_places;
mod types;

pub use sea_orm_migration::MigratorTrait;
use sea_orm_migration::prelude::*;

/// Every migration, oldest first.
pub struct Migrator;

impl MigratorTrait for Migrator {
    fn migrations() -> Vec<Box<dyn MigrationTrait>> {
        vec![
            Box::new(m0001_first_tables::FirstTables),
            Box::new(m0002_template_drafts::TemplateDrafts),
            Box::new(m0003_case_parts::CaseParts),
            Box::new(m0004_certification::Certification),
            Box::new(m0005_sittings::Sittings),
            Box::new(m0008_assignments::Assignments),
            Box::new(m0009_observations::Observations),
            Box::new(m0010_letters::Letters),
            Box::new(m0011_one_time_codes::OneTimeCodes),
            Box::new(m0012_wrong_tries::WrongTries),
            Box::new(m0013_known_places::KnownPlaces),
        ]
    }
}
