//! What of a schema holds no rows: the triggers that refuse change and removal, and the indexes that refuse the same twice.
//!
//! They are compared with what the migrations make, as far as they were applied. Never mends anything, and never looks at rows.

use super::texts;
use crate::store::StoreError;
use sea_orm::{ConnectOptions, ConnectionTrait, Database, DatabaseConnection, DbBackend};
use sootmark_migrations::{Migrator, MigratorTrait};
use tracing::instrument::WithSubscriber as _;
use tracing::subscriber::NoSubscriber;

/// Each migration that makes triggers in PostgreSQL, and the text that makes them: nobody can migrate a PostgreSQL beside the one
/// that is looked at, as is done with SQLite. A test holds that these are all.
const OF_POSTGRES: [(&str, &str); 5] = [
    ("m0001_first_tables", include_str!("../../../migrations/m0001_first_tables/append_only.postgres.sql")),
    ("m0004_certification", include_str!("../../../migrations/m0004_certification/append_only.postgres.sql")),
    ("m0005_sittings", include_str!("../../../migrations/m0005_sittings/append_only.postgres.sql")),
    ("m0008_assignments", include_str!("../../../migrations/m0008_assignments/append_only.postgres.sql")),
    ("m0009_observations", include_str!("../../../migrations/m0009_observations/append_only.postgres.sql")),
];

/// The triggers of PostgreSQL that fire, each with the body of the function that it calls.
const FIRING: &str = "SELECT t.tgname::text || ' ON ' || c.relname::text || ' ' || p.prosrc FROM pg_trigger t
  JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_namespace n ON n.oid = c.relnamespace JOIN pg_proc p ON p.oid = t.tgfoid
  WHERE n.nspname = current_schema() AND NOT t.tgisinternal AND t.tgenabled IN ('O', 'A')";

/// The indexes of PostgreSQL.
const INDEXES: &str = "SELECT indexname::text FROM pg_indexes WHERE schemaname = current_schema()";

/// What is missing, or is not as the migrations made it, in words; empty when nothing is.
///
/// # Errors
/// Those of every query.
pub(super) async fn missing(db: &impl ConnectionTrait) -> Result<Vec<String>, StoreError> {
    let steps = texts(db, "SELECT version FROM seaql_migrations").await?;
    let fresh = fresh(steps.len()).await?;
    let (triggers, indexes) = match db.get_database_backend() {
        DbBackend::Postgres => {
            let there = texts(db, INDEXES).await?;
            let mut indexes = texts(&fresh, &list("name", "index")).await?;
            indexes.retain(|name| !there.contains(name));
            (triggers_of_postgres(db, &steps).await?, indexes)
        }
        _ => (of_sqlite(db, &fresh, "trigger").await?, of_sqlite(db, &fresh, "index").await?),
    };
    fresh.close().await?;
    let mut found = Vec::new();
    for (names, what) in [(triggers, "triggers, which refuse change and removal,"), (indexes, "indexes")] {
        if !names.is_empty() {
            found.push(format!("{what} are missing or are not as the program made them: {}", names.join(", ")));
        }
    }
    Ok(found)
}

/// A database in memory after so many migrations. It is gone when it is closed.
async fn fresh(steps: usize) -> Result<DatabaseConnection, StoreError> {
    let mut options = ConnectOptions::new("sqlite::memory:");
    // Another connection would be another database.
    options.max_connections(1).sqlx_logging(false);
    let fresh = Database::connect(options).await?;
    let up = Migrator::up(&fresh, Some(u32::try_from(steps).unwrap_or(u32::MAX)));
    // Nobody who reads the log should think that the database was migrated.
    up.with_subscriber(NoSubscriber::default()).await?;
    Ok(fresh)
}

/// The names of this kind that the fresh one has, and that this one has not with the same text.
async fn of_sqlite(
    db: &impl ConnectionTrait,
    fresh: &DatabaseConnection,
    kind: &str,
) -> Result<Vec<String>, StoreError> {
    let there = texts(db, &list("sql", kind)).await?;
    let (names, wanted) = (texts(fresh, &list("name", kind)).await?, texts(fresh, &list("sql", kind)).await?);
    Ok(names.into_iter().zip(wanted).filter(|(_, text)| !there.contains(text)).map(|(name, _)| name).collect())
}

/// Asks SQLite for names or texts, but not of indexes that it makes by itself.
fn list(what: &str, kind: &str) -> String {
    format!("SELECT {what} FROM sqlite_master WHERE type = '{kind}' AND sql IS NOT NULL ORDER BY name")
}

/// Those that the applied migrations make and that do not fire on their table, or not with a function of the migrations.
async fn triggers_of_postgres(db: &impl ConnectionTrait, steps: &[String]) -> Result<Vec<String>, StoreError> {
    let firing = texts(db, FIRING).await?;
    let applied = OF_POSTGRES.iter().filter(|(step, _)| steps.iter().any(|one| one == step));
    let made = applied.flat_map(|(_, text)| text.lines().filter_map(name_and_table));
    let fires = |(name, table): &(&str, &str)| {
        let bodies = firing.iter().filter_map(|row| row.strip_prefix(&format!("{name} ON {table} ")));
        bodies.into_iter().any(|body| OF_POSTGRES.iter().any(|(_, text)| text.contains(body)))
    };
    Ok(made.filter(|trigger| !fires(trigger)).map(|(name, _)| name.to_owned()).collect())
}

/// The trigger that a line begins to make, and its table.
fn name_and_table(line: &str) -> Option<(&str, &str)> {
    let (name, rest) = line.strip_prefix("CREATE TRIGGER ")?.split_once(' ')?;
    let (_, table) = rest.rsplit_once(" ON ")?;
    Some((name, table.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_that_makes_a_trigger_says_its_name_and_table() {
        let line = "CREATE TRIGGER tr_attempt_terms BEFORE UPDATE OF extra_s, invigilation_id ON attempt";
        assert_eq!(name_and_table(line), Some(("tr_attempt_terms", "attempt")));
        for other in ["  FOR EACH ROW EXECUTE FUNCTION refuse_change();", "CREATE FUNCTION refuse_change()", ""] {
            assert_eq!(name_and_table(other), None, "{other}");
        }
        for (step, text) in OF_POSTGRES {
            let made = text.lines().filter_map(name_and_table).count();
            assert_eq!(made, text.matches("CREATE TRIGGER").count(), "{step}: each stands on a line of its own");
        }
    }
}
