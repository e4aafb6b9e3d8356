//! Which tables, columns and counters a database has, asked of itself.

use super::LEFT_OUT;
use crate::store::StoreError;
use sea_orm::{ConnectionTrait, DbBackend, QueryResult, Statement};

/// What a column holds; the same word for both databases' types of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Whole,
    Real,
    Flag,
    Text,
    Bytes,
}

impl Kind {
    fn of_type(name: &str) -> Result<Self, StoreError> {
        match name.to_ascii_lowercase().as_str() {
            "integer" | "bigint" => Ok(Self::Whole),
            "real" | "double precision" => Ok(Self::Real),
            "boolean" => Ok(Self::Flag),
            "text" => Ok(Self::Text),
            "blob" | "bytea" => Ok(Self::Bytes),
            other => Err(StoreError::Corrupt(format!("a backup knows no columns of the type {other}"))),
        }
    }
}

/// A table with its columns, by name.
#[derive(Clone, Debug)]
pub(super) struct Table {
    pub(super) name: String,
    pub(super) columns: Vec<(String, Kind)>,
    /// The columns that the rows are put in order by; all of them where there is no key.
    pub(super) ordered_by: Vec<(String, Kind)>,
}

/// Every table that a backup holds, by name.
pub(super) async fn tables(db: &impl ConnectionTrait) -> Result<Vec<Table>, StoreError> {
    let mut tables = Vec::new();
    for name in names(db).await?.into_iter().filter(|name| !LEFT_OUT.contains(&name.as_str())) {
        let mut columns = columns(db, &name).await?;
        columns.sort_by(|a, b| a.0.cmp(&b.0));
        let key = key(db, &name).await?;
        let mut ordered_by: Vec<_> = columns.iter().filter(|column| key.contains(&column.0)).cloned().collect();
        if ordered_by.is_empty() {
            ordered_by.clone_from(&columns);
        }
        tables.push(Table { name, columns, ordered_by });
    }
    Ok(tables)
}

/// The names of all tables, in the order of their bytes.
pub(super) async fn names(db: &impl ConnectionTrait) -> Result<Vec<String>, StoreError> {
    let sql = match db.get_database_backend() {
        DbBackend::Postgres => {
            "SELECT table_name::text FROM information_schema.tables \
             WHERE table_schema = current_schema() AND table_type = 'BASE TABLE'"
        }
        _ => "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\'",
    };
    let mut names = texts(db, sql.to_owned()).await?;
    names.sort();
    Ok(names)
}

async fn columns(db: &impl ConnectionTrait, table: &str) -> Result<Vec<(String, Kind)>, StoreError> {
    let sql = match db.get_database_backend() {
        DbBackend::Postgres => format!(
            "SELECT column_name::text, data_type::text FROM information_schema.columns \
             WHERE table_schema = current_schema() AND table_name = '{table}'"
        ),
        _ => format!("SELECT name, type FROM pragma_table_info('{table}')"),
    };
    let named = |row: &QueryResult| -> Result<(String, Kind), StoreError> {
        Ok((row.try_get_by_index(0)?, Kind::of_type(&row.try_get_by_index::<String>(1)?)?))
    };
    rows(db, sql).await?.iter().map(named).collect()
}

async fn key(db: &impl ConnectionTrait, table: &str) -> Result<Vec<String>, StoreError> {
    let sql = match db.get_database_backend() {
        DbBackend::Postgres => format!(
            "SELECT a.attname::text FROM pg_index i JOIN pg_attribute a ON a.attrelid = i.indrelid AND a.attnum = ANY(i.indkey) \
             WHERE i.indisprimary AND i.indrelid = '\"{table}\"'::regclass"
        ),
        _ => format!("SELECT name FROM pragma_table_info('{table}') WHERE pk > 0"),
    };
    texts(db, sql).await
}

/// Up to which number each table has given its rows numbers; a number is never given twice, also after a restore.
pub(super) async fn counters(db: &impl ConnectionTrait, tables: &[Table]) -> Result<Vec<(String, i64)>, StoreError> {
    let mut counters = Vec::new();
    for table in tables {
        let sql = match db.get_database_backend() {
            DbBackend::Postgres => match sequence(db, &table.name).await? {
                Some(sequence) => format!("SELECT CASE WHEN is_called THEN last_value ELSE 0 END FROM {sequence}"),
                None => continue,
            },
            _ => format!("SELECT seq FROM sqlite_sequence WHERE name = '{}'", table.name),
        };
        for row in rows(db, sql).await? {
            counters.push((table.name.clone(), row.try_get_by_index(0)?));
        }
    }
    counters.retain(|(_, up_to)| *up_to > 0);
    Ok(counters)
}

/// The name of the sequence that numbers a table of PostgreSQL.
pub(super) async fn sequence(db: &impl ConnectionTrait, table: &str) -> Result<Option<String>, StoreError> {
    let numbered = format!(
        "SELECT 1 FROM information_schema.columns WHERE table_schema = current_schema() AND table_name = '{table}' \
         AND column_name = 'id' AND is_identity = 'YES'"
    );
    if rows(db, numbered).await?.is_empty() {
        return Ok(None);
    }
    Ok(texts(db, format!("SELECT pg_get_serial_sequence('\"{table}\"', 'id')")).await?.pop())
}

pub(super) async fn rows(db: &impl ConnectionTrait, sql: String) -> Result<Vec<QueryResult>, StoreError> {
    Ok(db.query_all_raw(Statement::from_string(db.get_database_backend(), sql)).await?)
}

pub(super) async fn texts(db: &impl ConnectionTrait, sql: String) -> Result<Vec<String>, StoreError> {
    rows(db, sql).await?.iter().map(|row| Ok(row.try_get_by_index(0)?)).collect()
}
