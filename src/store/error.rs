//! What can go wrong between the program and its database, in five words that callers can act on.
//!
//! Never carries a reader's wording: that is the web's and the command line's.

use sea_orm::{DbErr, RuntimeErr, SqlErr, sqlx};
use std::sync::atomic::{AtomicU64, Ordering};

/// Why the store could not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// There is no such thing, or not for this person.
    #[error("not found")]
    NotFound,
    /// A rule of the database forbids it; the constraint's name is one of [`conflict`], the same on both databases.
    #[error("refused by {0}")]
    Conflict(String),
    /// The database cannot be reached, is busy, full, or gave up waiting. Nothing was saved; later it may work.
    #[error("the database did not do it: {0}")]
    Unavailable(#[source] DbErr),
    /// The database holds, or was asked to hold, what the program does not allow.
    #[error("the database and the program do not agree: {0}")]
    Corrupt(String),
    /// COMMIT failed: whether it was saved is **unknown**. Stop serving, open the database again and look.
    #[error("the end of saving failed, whether it was saved is unknown: {0}")]
    CommitUnknown(#[source] DbErr),
}

/// The names of the constraints that callers tell apart.
pub mod conflict {
    /// Somebody has this e-mail address already.
    pub const EMAIL: &str = "uq_person_email_norm";
    /// A branch of this name exists already.
    pub const BRANCH_NAME: &str = "uq_branch_name";
    /// This version of the document exists already: somebody else was faster.
    pub const DOCUMENT_VERSION: &str = "uq_bank_document_kind_key_version";
    /// The person already sits an examination for this scheme.
    pub const OPEN_EXAMINATION: &str = "uq_attempt_person_id_scheme_key";
    /// The debrief after this attempt was held already.
    pub const DEBRIEF: &str = "uq_debrief_attempt_id";
    /// This attempt has decided about this competence already.
    pub const DECIDED: &str = "uq_qualification_attempt_id_competence_key";
    /// Somebody has decided about this attempt already.
    pub const DECISION: &str = "uq_decision_attempt_id";
    /// There is an appeal against this decision already.
    pub const APPEAL: &str = "uq_appeal_attempt_id";
    /// This appeal was decided already.
    pub const APPEAL_DECISION: &str = "uq_appeal_decision_attempt_id";
    /// This was recorded already, by the same click.
    pub const TRIGGER: &str = "uq_refresher_trigger_person_id_key";
    /// More time was set already, by the same click.
    pub const EXTRA_TIME: &str = "uq_extra_time_person_id_key";
    /// An invigilation was opened already, by the same click.
    pub const INVIGILATION: &str = "uq_invigilation_opened_by_key";
    /// Something was written down about this sitting already, by the same click.
    pub const INCIDENT: &str = "uq_incident_attempt_id_key";
    /// This was assigned already, by the same click.
    pub const ASSIGNMENT: &str = "uq_assignment_made_by_key";
    /// This assignment was withdrawn already.
    pub const ASSIGNMENT_WITHDRAWAL: &str = "uq_assignment_withdrawal_assignment_id";
    /// An observation was opened already, by the same click.
    pub const OBSERVATION: &str = "uq_observation_assessor_id_key";
    /// What is pointed at is not there, or is still pointed at.
    pub const REFERENCE: &str = "reference";
}

/// How often the database failed this program since it began.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Failures {
    /// It could not be reached, was busy or full.
    pub unavailable: u64,
    /// It holds what the program does not allow.
    pub disagreed: u64,
    /// It did not say whether something was saved.
    pub commit_unknown: u64,
}

static UNAVAILABLE: AtomicU64 = AtomicU64::new(0);
static DISAGREED: AtomicU64 = AtomicU64::new(0);
static COMMIT_UNKNOWN: AtomicU64 = AtomicU64::new(0);

/// How often the database failed this program since it began.
#[must_use]
pub fn failures() -> Failures {
    let read = |count: &AtomicU64| count.load(Ordering::Relaxed);
    Failures { unavailable: read(&UNAVAILABLE), disagreed: read(&DISAGREED), commit_unknown: read(&COMMIT_UNKNOWN) }
}

impl StoreError {
    /// The same error, counted when it is the database's.
    pub(super) fn counted(self) -> Self {
        let count = match self {
            Self::NotFound | Self::Conflict(_) => return self,
            Self::Unavailable(_) => &UNAVAILABLE,
            Self::Corrupt(_) => &DISAGREED,
            Self::CommitUnknown(_) => &COMMIT_UNKNOWN,
        };
        count.fetch_add(1, Ordering::Relaxed);
        self
    }

    fn of(error: DbErr) -> Self {
        match error.sql_err() {
            Some(SqlErr::UniqueConstraintViolation(message)) => return Self::Conflict(constraint_name(&message)),
            Some(SqlErr::ForeignKeyConstraintViolation(_)) => return Self::Conflict(conflict::REFERENCE.to_owned()),
            _ => {}
        }
        match error {
            DbErr::RecordNotFound(_) | DbErr::RecordNotUpdated => Self::NotFound,
            DbErr::ConnectionAcquire(_) | DbErr::Conn(_) => Self::Unavailable(error),
            DbErr::Exec(RuntimeErr::SqlxError(ref cause)) | DbErr::Query(RuntimeErr::SqlxError(ref cause)) => {
                if is_passing(cause) {
                    Self::Unavailable(error)
                } else {
                    Self::Corrupt(error.to_string())
                }
            }
            other => Self::Corrupt(other.to_string()),
        }
    }
}

impl From<DbErr> for StoreError {
    fn from(error: DbErr) -> Self {
        Self::of(error).counted()
    }
}

/// PostgreSQL names the constraint; SQLite names the columns, from which our own naming rule gives the constraint.
fn constraint_name(message: &str) -> String {
    if let Some(columns) = message.split("UNIQUE constraint failed: ").nth(1) {
        let mut parts = columns.split(',').filter_map(|column| column.trim().split_once('.')).peekable();
        let table = parts.peek().map_or("", |(table, _)| *table);
        let mut name = format!("uq_{table}");
        for (_, column) in parts {
            name.push('_');
            name.push_str(column);
        }
        return name;
    }
    message.split('"').nth(1).unwrap_or(message).to_owned()
}

/// Whether the cause may pass by itself: a lock, a connection, a full disk, a server that is going down.
fn is_passing(cause: &sqlx::Error) -> bool {
    let sqlx::Error::Database(refusal) = cause else {
        return !matches!(
            cause,
            sqlx::Error::ColumnDecode { .. } | sqlx::Error::ColumnNotFound(_) | sqlx::Error::Decode(_)
        );
    };
    let code = refusal.code().unwrap_or_default();
    match code.parse::<u32>() {
        // SQLite: the low byte is busy, locked, read only (a disk that failed often is from then on), I/O error, full,
        // cannot open.
        Ok(number) if code.len() < 5 => matches!(number & 0xff, 5 | 6 | 8 | 10 | 13 | 14),
        // PostgreSQL, by class: connection, rollback, resources, object in use, operator intervention, system.
        _ => ["08", "40", "53", "55", "57", "58"].iter().any(|class| code.starts_with(class)),
    }
}

#[cfg(test)]
mod tests {
    use super::{conflict, constraint_name};

    #[test]
    fn a_constraint_has_one_name_on_both_databases() {
        for (message, expected) in [
            ("UNIQUE constraint failed: person.email_norm", conflict::EMAIL),
            ("duplicate key value violates unique constraint \"uq_person_email_norm\"", conflict::EMAIL),
            ("UNIQUE constraint failed: attempt.person_id, attempt.scheme_key", conflict::OPEN_EXAMINATION),
        ] {
            assert_eq!(constraint_name(message), expected);
        }
    }
}
