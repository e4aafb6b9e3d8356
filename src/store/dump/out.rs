//! Out of the tables: one line per table, and below it one line per row, the same bytes on both databases.

use super::catalogue::{Kind, Table, counters, tables};
use crate::store::StoreError;
use crate::store::read::record_head::record_head;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use futures_util::TryStreamExt as _;
use sea_orm::{DatabaseTransaction, DbBackend, QueryResult, Statement, StreamTrait};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What a database held when it was written out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Contents {
    /// How many rows each table has.
    pub rows: BTreeMap<String, u64>,
    /// Up to which number each table has given its rows numbers.
    pub counters: BTreeMap<String, i64>,
    /// How many entries the record has.
    pub entries: i64,
    /// The hash of the last of them.
    pub head: String,
}

/// Gives every row of a snapshot as lines without their ends.
///
/// # Errors
/// When the database does not answer, or `take` does not take a line.
pub async fn write_out<E: From<StoreError>>(
    snapshot: &DatabaseTransaction,
    mut take: impl FnMut(&str) -> Result<(), E>,
) -> Result<Contents, E> {
    let tables = tables(snapshot).await?;
    let mut rows = BTreeMap::new();
    for table in &tables {
        let columns: Vec<&str> = table.columns.iter().map(|(name, _)| name.as_str()).collect();
        take(&json!({ "table": table.name, "columns": columns }).to_string())?;
        let select = Statement::from_string(backend(snapshot), selecting(table, backend(snapshot)));
        let mut stream = snapshot.stream_raw(select).await.map_err(StoreError::from)?;
        let mut count = 0_u64;
        while let Some(row) = stream.try_next().await.map_err(StoreError::from)? {
            take(&Value::Array(values(table, &row)?).to_string())?;
            count += 1;
        }
        rows.insert(table.name.clone(), count);
    }
    let counters = counters(snapshot, &tables).await?.into_iter().collect();
    let end = record_head(snapshot).await?;
    Ok(Contents { rows, counters, entries: end.entries, head: end.hash })
}

fn backend(snapshot: &DatabaseTransaction) -> DbBackend {
    StreamTrait::get_database_backend(snapshot)
}

/// Whole numbers are widened and flags are 0 and 1, as SQLite has them; texts are put in order by their bytes.
fn selecting(table: &Table, backend: DbBackend) -> String {
    let postgres = backend == DbBackend::Postgres;
    let shown = |(name, kind): &(String, Kind)| match kind {
        Kind::Whole if postgres => format!("\"{name}\"::bigint"),
        Kind::Flag if postgres => format!("\"{name}\"::integer::bigint"),
        _ => format!("\"{name}\""),
    };
    let ordered = |(name, kind): &(String, Kind)| match kind {
        Kind::Text if postgres => format!("\"{name}\" COLLATE \"C\" NULLS FIRST"),
        _ => format!("\"{name}\" NULLS FIRST"),
    };
    let columns: Vec<String> = table.columns.iter().map(shown).collect();
    let order: Vec<String> = table.ordered_by.iter().map(ordered).collect();
    format!("SELECT {} FROM \"{}\" ORDER BY {}", columns.join(", "), table.name, order.join(", "))
}

fn values(table: &Table, row: &QueryResult) -> Result<Vec<Value>, StoreError> {
    let value = |(at, (_, kind)): (usize, &(String, Kind))| {
        Ok(match kind {
            Kind::Whole | Kind::Flag => json!(row.try_get_by_index::<Option<i64>>(at)?),
            // As text, so that every bit of it comes back whoever reads the number.
            Kind::Real => json!(row.try_get_by_index::<Option<f64>>(at)?.map(|real| format!("{real:?}"))),
            Kind::Text => json!(row.try_get_by_index::<Option<String>>(at)?),
            Kind::Bytes => json!(row.try_get_by_index::<Option<Vec<u8>>>(at)?.map(|bytes| STANDARD.encode(bytes))),
        })
    };
    table.columns.iter().enumerate().map(value).collect()
}
