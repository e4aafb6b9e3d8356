//! Everything that a database holds, as a test compares it: every row of every table, as texts.

use sea_orm::{ConnectionTrait, DbBackend, QueryResult, Statement};
use sootmark::store::Db;
use std::collections::BTreeMap;

/// A row's columns and their values as the database writes them.
pub(crate) type Row = BTreeMap<String, String>;
/// Rows by table.
pub(crate) type Rows = BTreeMap<String, Vec<Row>>;

/// The tables but those about migrations.
async fn tables(db: &Db) -> Vec<String> {
    let of_tables = match db.get_database_backend() {
        DbBackend::Postgres => {
            "SELECT table_name::text FROM information_schema.tables WHERE table_schema = current_schema()"
        }
        _ => "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'",
    };
    let mut tables = texts(db, of_tables).await.expect("the database reads");
    tables.retain(|table| table != "seaql_migrations");
    tables
}

/// How many rows every table has.
pub(crate) async fn counts(db: &Db) -> BTreeMap<String, i64> {
    let tables = tables(db).await;
    let each = tables.iter().map(|table| format!("SELECT '{table}' AS of_table, COUNT(*) AS rows FROM \"{table}\""));
    let sql = each.collect::<Vec<_>>().join(" UNION ALL ");
    let rows = db.query_all_raw(Statement::from_string(db.get_database_backend(), sql)).await;
    let count =
        |row: &QueryResult| (row.try_get_by_index(0).expect("a name"), row.try_get_by_index(1).expect("a count"));
    rows.expect("the database reads").iter().map(count).collect()
}

/// Every row of every table but those about migrations.
pub(crate) async fn rows(db: &Db) -> Rows {
    let mut all = Rows::new();
    for table in tables(db).await {
        let found = rows_of(db, &table).await;
        if !found.is_empty() {
            all.insert(table, found);
        }
    }
    assert!(!all.is_empty(), "there are rows");
    all
}

/// Every row of a table.
pub(crate) async fn rows_of(db: &Db, table: &str) -> Vec<Row> {
    let postgres = db.get_database_backend() == DbBackend::Postgres;
    let columns = match postgres {
        true => format!(
            "SELECT column_name::text FROM information_schema.columns \
             WHERE table_schema = current_schema() AND table_name = '{table}'"
        ),
        false => format!("SELECT name FROM pragma_table_info('{table}')"),
    };
    let columns = texts(db, &columns).await.expect("the database reads");
    let shown = columns.iter().map(|column| match postgres {
        true => format!("quote_nullable(\"{column}\"::text)"),
        false => format!("quote(\"{column}\")"),
    });
    let sql = format!("SELECT {} FROM \"{table}\"", shown.collect::<Vec<_>>().join(", "));
    let rows = db.query_all_raw(Statement::from_string(db.get_database_backend(), sql)).await;
    let value = |row: &QueryResult, at: usize| row.try_get_by_index(at).expect("a text");
    let read = |row: &QueryResult| -> Row {
        columns.iter().enumerate().map(|(at, column)| (column.clone(), value(row, at))).collect()
    };
    rows.expect("the database reads").iter().map(read).collect()
}

/// The first column of what a query gives.
pub(crate) async fn texts(db: &impl ConnectionTrait, sql: &str) -> Result<Vec<String>, sea_orm::DbErr> {
    let rows = db.query_all_raw(Statement::from_string(db.get_database_backend(), sql)).await?;
    rows.iter().map(|row| row.try_get_by_index(0)).collect()
}
