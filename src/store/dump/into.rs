//! Into empty tables: rows as they were written out. The tables' own rules wait meanwhile, and hold again before the end.

use super::catalogue::{Kind, Table, rows, sequence, tables, texts};
use super::out::Contents;
use crate::store::StoreError;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sea_orm::{ConnectionTrait, DatabaseTransaction, DbBackend, Statement, Value as Bound};
use serde_json::Value;

/// How many bound values a statement has at most: fewer than either database takes (SQLite 32 766, PostgreSQL 65 535).
const BOUND_AT_ONCE: usize = 15_000;

/// Takes tables and rows one after another.
pub struct Loader<'t> {
    transaction: &'t DatabaseTransaction,
    tables: Vec<Table>,
    /// SQL that puts back what was set aside.
    put_back: Vec<String>,
    current: Option<Table>,
    waiting: Vec<Vec<Value>>,
}

impl<'t> Loader<'t> {
    /// Empties the tables of what their making put in, and sets their rules aside: those that let rows only be added, and the
    /// order in which rows may point at each other.
    ///
    /// # Errors
    /// Those of every write.
    pub async fn begin(transaction: &'t DatabaseTransaction) -> Result<Self, StoreError> {
        let tables = tables(transaction).await?;
        let put_back = match transaction.get_database_backend() {
            DbBackend::Postgres => set_aside_postgres(transaction, &tables).await?,
            _ => set_aside_sqlite(transaction).await?,
        };
        for table in &tables {
            transaction.execute_unprepared(&format!("DELETE FROM \"{}\"", table.name)).await?;
        }
        Ok(Self { transaction, tables, put_back, current: None, waiting: Vec::new() })
    }

    /// The rows that follow are of this table.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] when there is no such table with these columns.
    pub async fn table(&mut self, name: &str, columns: &[String]) -> Result<(), StoreError> {
        self.flush().await?;
        let found = self
            .tables
            .iter()
            .find(|table| table.name == name && table.columns.iter().map(|(column, _)| column).eq(columns.iter()));
        let unknown = || StoreError::Corrupt(format!("there is no table {name} with these columns"));
        self.current = Some(found.cloned().ok_or_else(unknown)?);
        Ok(())
    }

    /// A row of the current table.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] when it does not fit the table.
    pub async fn row(&mut self, row: Vec<Value>) -> Result<(), StoreError> {
        let width = self.current.as_ref().map(|table| table.columns.len());
        if width != Some(row.len()) {
            return Err(StoreError::Corrupt("a row does not have its table's columns".to_owned()));
        }
        self.waiting.push(row);
        if self.waiting.len() * width.unwrap_or(1) >= BOUND_AT_ONCE {
            self.flush().await?;
        }
        Ok(())
    }

    /// Puts the counters on and the rules back; those about what points at what are held here.
    ///
    /// # Errors
    /// Those of every write; [`StoreError::Conflict`] when a row points at nothing.
    pub async fn end(mut self, contents: &Contents) -> Result<(), StoreError> {
        self.flush().await?;
        for (table, up_to) in &contents.counters {
            if self.tables.iter().any(|known| known.name == *table) {
                self.count_from(table, *up_to).await?;
            }
        }
        for sql in &self.put_back {
            self.transaction.execute_unprepared(sql).await?;
        }
        Ok(())
    }

    async fn count_from(&self, table: &str, up_to: i64) -> Result<(), StoreError> {
        if self.transaction.get_database_backend() == DbBackend::Postgres {
            if let Some(sequence) = sequence(self.transaction, table).await? {
                rows(self.transaction, format!("SELECT setval('{sequence}', {up_to})")).await?;
            }
            return Ok(());
        }
        for sql in [
            format!("DELETE FROM sqlite_sequence WHERE name = '{table}'"),
            format!("INSERT INTO sqlite_sequence (name, seq) VALUES ('{table}', {up_to})"),
        ] {
            self.transaction.execute_unprepared(&sql).await?;
        }
        Ok(())
    }

    async fn flush(&mut self) -> Result<(), StoreError> {
        let waiting = std::mem::take(&mut self.waiting);
        let Some(table) = self.current.as_ref().filter(|_| !waiting.is_empty()) else { return Ok(()) };
        let backend = self.transaction.get_database_backend();
        let columns: Vec<String> = table.columns.iter().map(|(name, _)| format!("\"{name}\"")).collect();
        let mut bound = Vec::with_capacity(waiting.len() * columns.len());
        let mut places = Vec::with_capacity(waiting.len());
        for row in waiting {
            let mut place = Vec::with_capacity(row.len());
            for (value, (name, kind)) in row.into_iter().zip(&table.columns) {
                let wrong = || StoreError::Corrupt(format!("{}.{name} holds what it cannot", table.name));
                bound.push(bound_value(value, *kind).ok_or_else(wrong)?);
                place.push(if backend == DbBackend::Postgres { format!("${}", bound.len()) } else { "?".to_owned() });
            }
            places.push(format!("({})", place.join(", ")));
        }
        let sql = format!("INSERT INTO \"{}\" ({}) VALUES {}", table.name, columns.join(", "), places.join(", "));
        self.transaction.execute_raw(Statement::from_sql_and_values(backend, sql, bound)).await?;
        Ok(())
    }
}

/// The value for a column of this kind; none when it is of another.
fn bound_value(value: Value, kind: Kind) -> Option<Bound> {
    Some(match (kind, value) {
        (Kind::Whole, Value::Null) => Bound::BigInt(None),
        (Kind::Real, Value::Null) => Bound::Double(None),
        (Kind::Flag, Value::Null) => Bound::Bool(None),
        (Kind::Text, Value::Null) => Bound::String(None),
        (Kind::Bytes, Value::Null) => Bound::Bytes(None),
        (Kind::Whole, Value::Number(number)) => Bound::BigInt(Some(number.as_i64()?)),
        (Kind::Flag, Value::Number(number)) => Bound::Bool(Some(number.as_i64()? != 0)),
        (Kind::Real, Value::String(text)) => Bound::Double(Some(text.parse().ok()?)),
        (Kind::Text, Value::String(text)) => Bound::String(Some(text)),
        (Kind::Bytes, Value::String(text)) => Bound::Bytes(Some(STANDARD.decode(text).ok()?)),
        _ => return None,
    })
}

/// SQLite: the triggers are taken off and made again; references are looked at when the transaction ends.
async fn set_aside_sqlite(transaction: &DatabaseTransaction) -> Result<Vec<String>, StoreError> {
    transaction.execute_unprepared("PRAGMA defer_foreign_keys = ON").await?;
    let triggers = "SELECT name FROM sqlite_master WHERE type = 'trigger' ORDER BY name";
    let made = "SELECT sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name";
    let put_back = texts(transaction, made.to_owned()).await?;
    for name in texts(transaction, triggers.to_owned()).await? {
        transaction.execute_unprepared(&format!("DROP TRIGGER \"{name}\"")).await?;
    }
    Ok(put_back)
}

/// PostgreSQL: the triggers rest, and references are looked at when told to; both only inside this transaction.
async fn set_aside_postgres(transaction: &DatabaseTransaction, tables: &[Table]) -> Result<Vec<String>, StoreError> {
    let mut put_back = vec!["SET CONSTRAINTS ALL IMMEDIATE".to_owned()];
    for Table { name, .. } in tables {
        transaction.execute_unprepared(&format!("ALTER TABLE \"{name}\" DISABLE TRIGGER USER")).await?;
        put_back.push(format!("ALTER TABLE \"{name}\" ENABLE TRIGGER USER"));
        let references = format!(
            "SELECT conname::text FROM pg_constraint WHERE contype = 'f' AND conrelid = '\"{name}\"'::regclass ORDER BY 1"
        );
        for constraint in texts(transaction, references).await? {
            let alter = format!("ALTER TABLE \"{name}\" ALTER CONSTRAINT \"{constraint}\"");
            transaction.execute_unprepared(&format!("{alter} DEFERRABLE INITIALLY DEFERRED")).await?;
            put_back.push(format!("{alter} NOT DEFERRABLE"));
        }
    }
    Ok(put_back)
}
