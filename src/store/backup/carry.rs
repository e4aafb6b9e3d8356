//! Carrying every row from one database into another that has the same tables and no rows: between PostgreSQL and SQLite.
//!
//! Never decides which rows: all tables that the migrations made, in an order in which nothing refers to what is not there yet.

use crate::store::StoreError;
use sea_orm::{ConnectionTrait, DbBackend, QueryResult, Statement, TryGetable, Value};
use std::collections::{BTreeMap, BTreeSet};

/// Rows that are read and written at once; chosen by us: few enough for the bound values of one statement.
const AT_ONCE: usize = 200;

/// A table as PostgreSQL describes it.
pub(super) struct Table {
    pub(super) name: String,
    columns: Vec<Column>,
    /// The places of the columns by which its rows are told apart.
    key: Vec<usize>,
}

struct Column {
    name: String,
    kind: Kind,
}

/// What a column holds. SQLite has no type for yes or no: it keeps 1 and 0.
#[derive(Clone, Copy)]
enum Kind {
    Whole,
    Small,
    Real,
    Flag,
    Text,
    Bytes,
}

impl Kind {
    fn of(type_name: &str) -> Result<Self, StoreError> {
        Ok(match type_name {
            "bigint" => Self::Whole,
            "integer" => Self::Small,
            "double precision" => Self::Real,
            "boolean" => Self::Flag,
            "text" => Self::Text,
            "bytea" => Self::Bytes,
            other => return Err(StoreError::Corrupt(format!("a column of the type {other} cannot be carried"))),
        })
    }

    /// The value of a row in the words of the database that it goes to.
    fn value(self, row: &QueryResult, at: usize, to: DbBackend) -> Result<Value, StoreError> {
        fn read<T: TryGetable>(row: &QueryResult, at: usize) -> Result<Option<T>, StoreError> {
            row.try_get_by_index(at).map_err(StoreError::from)
        }
        Ok(match self {
            Self::Whole => read::<i64>(row, at)?.into(),
            Self::Small => read::<i32>(row, at)?.into(),
            Self::Real => read::<f64>(row, at)?.into(),
            // Read by sqlx as a bool from both; SQLite takes a bool as 1 or 0.
            Self::Flag if to == DbBackend::Sqlite => read::<bool>(row, at)?.map(i64::from).into(),
            Self::Flag => read::<bool>(row, at)?.into(),
            Self::Text => read::<String>(row, at)?.into(),
            Self::Bytes => read::<Vec<u8>>(row, at)?.into(),
        })
    }
}

/// Every table that the migrations made in this PostgreSQL, those that others refer to in front.
pub(super) async fn tables(postgres: &impl ConnectionTrait) -> Result<Vec<Table>, StoreError> {
    let mut found: BTreeMap<String, Table> = BTreeMap::new();
    for row in all(postgres, COLUMNS).await? {
        let (table, name, type_name): (String, String, String) = three(&row)?;
        let column = Column { name, kind: Kind::of(&type_name)? };
        let new = || Table { name: table.clone(), columns: Vec::new(), key: Vec::new() };
        found.entry(table.clone()).or_insert_with(new).columns.push(column);
    }
    for row in all(postgres, KEYS).await? {
        let (table, name): (String, String) = (row.try_get_by_index(0)?, row.try_get_by_index(1)?);
        let Some(table) = found.get_mut(&table) else { continue };
        table.key.extend(table.columns.iter().position(|column| column.name == name));
    }
    let mut refers: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for row in all(postgres, REFERENCES).await? {
        let (from, to): (String, String) = (row.try_get_by_index(0)?, row.try_get_by_index(1)?);
        if from != to {
            refers.entry(from).or_default().insert(to);
        }
    }
    let mut ordered = Vec::with_capacity(found.len());
    let mut done = BTreeSet::new();
    while !found.is_empty() {
        let free = |name: &&String| refers.get(*name).is_none_or(|needed| needed.is_subset(&done));
        let next = found.keys().find(free).cloned();
        let Some(table) = next.and_then(|name| found.remove(&name)) else {
            return Err(StoreError::Corrupt("tables refer to each other in a ring".to_owned()));
        };
        if table.key.is_empty() {
            return Err(StoreError::Corrupt(format!("the rows of the table {} have no order", table.name)));
        }
        done.insert(table.name.clone());
        ordered.push(table);
    }
    Ok(ordered)
}

/// Carries the rows of one table; gives how many there were.
pub(super) async fn carry(
    from: &impl ConnectionTrait,
    to: &impl ConnectionTrait,
    table: &Table,
) -> Result<u64, StoreError> {
    let (from_backend, to_backend) = (from.get_database_backend(), to.get_database_backend());
    let mut count = 0;
    let mut last: Option<Vec<Value>> = None;
    loop {
        let rows = from.query_all_raw(table.page(from_backend, last.as_deref())).await?;
        let mut values = Vec::with_capacity(rows.len() * table.columns.len());
        for row in &rows {
            for (at, column) in table.columns.iter().enumerate() {
                values.push(column.kind.value(row, at, to_backend)?);
            }
        }
        let Some(row) = rows.last() else { return Ok(count) };
        let key = table.key.iter().map(|at| table.columns[*at].kind.value(row, *at, from_backend));
        last = Some(key.collect::<Result<_, _>>()?);
        to.execute_raw(Statement::from_sql_and_values(to_backend, table.insert(rows.len()), values)).await?;
        count += rows.len() as u64;
        if rows.len() < AT_ONCE {
            return Ok(count);
        }
    }
}

impl Table {
    fn names(&self, places: impl Iterator<Item = usize>) -> String {
        places.map(|at| format!("\"{}\"", self.columns[at].name)).collect::<Vec<_>>().join(", ")
    }

    /// The rows after the one whose key is `last`, or the first ones.
    fn page(&self, backend: DbBackend, last: Option<&[Value]>) -> Statement {
        let (columns, key) = (self.names(0..self.columns.len()), self.names(self.key.iter().copied()));
        let after = last.map_or_else(String::new, |last| format!("WHERE ({key}) > ({})", places(1..=last.len())));
        let sql = format!("SELECT {columns} FROM \"{}\" {after} ORDER BY {key} LIMIT {AT_ONCE}", self.name);
        Statement::from_sql_and_values(backend, sql, last.unwrap_or_default().to_vec())
    }

    fn insert(&self, rows: usize) -> String {
        let width = self.columns.len();
        let row = |row: usize| format!("({})", places(row * width + 1..=(row + 1) * width));
        let rows: Vec<String> = (0..rows).map(row).collect();
        format!("INSERT INTO \"{}\" ({}) VALUES {}", self.name, self.names(0..width), rows.join(", "))
    }
}

fn places(numbers: std::ops::RangeInclusive<usize>) -> String {
    numbers.map(|number| format!("${number}")).collect::<Vec<_>>().join(", ")
}

async fn all(db: &impl ConnectionTrait, sql: &str) -> Result<Vec<QueryResult>, StoreError> {
    Ok(db.query_all_raw(Statement::from_string(db.get_database_backend(), sql)).await?)
}

fn three(row: &QueryResult) -> Result<(String, String, String), StoreError> {
    Ok((row.try_get_by_index(0)?, row.try_get_by_index(1)?, row.try_get_by_index(2)?))
}

const COLUMNS: &str = "SELECT table_name::text, column_name::text, data_type::text FROM information_schema.columns
  WHERE table_schema = current_schema() AND table_name <> 'seaql_migrations' ORDER BY table_name, ordinal_position";

// The primary key, or else a unique index over columns that are always there: what rows can be read in the order of.
const KEYS: &str = "SELECT t.relname::text, a.attname::text FROM (
    SELECT DISTINCT ON (i.indrelid) i.indrelid, i.indkey::int2[] AS places FROM pg_index i
    WHERE i.indisunique AND i.indpred IS NULL AND NOT EXISTS (
      SELECT 1 FROM pg_attribute n WHERE n.attrelid = i.indrelid AND n.attnum = ANY (i.indkey::int2[]) AND NOT n.attnotnull)
    ORDER BY i.indrelid, i.indisprimary DESC, i.indexrelid) k
  JOIN pg_class t ON t.oid = k.indrelid
  JOIN pg_namespace s ON s.oid = t.relnamespace AND s.nspname = current_schema()
  CROSS JOIN LATERAL unnest(k.places) WITH ORDINALITY p (place, ordinal)
  JOIN pg_attribute a ON a.attrelid = k.indrelid AND a.attnum = p.place
  ORDER BY t.relname, p.ordinal";

const REFERENCES: &str = "SELECT f.relname::text, t.relname::text FROM pg_constraint c
  JOIN pg_class f ON f.oid = c.conrelid JOIN pg_class t ON t.oid = c.confrelid
  JOIN pg_namespace n ON n.oid = f.relnamespace
  WHERE c.contype = 'f' AND n.nspname = current_schema()";
