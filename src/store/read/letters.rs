//! What was written to whom and what became of it: one page at a time, the newest first.
//!
//! Never reads a letter's words or its links: a list of letters has no use for them, and an invitation's link is a secret.

use crate::domain::letters::Kind;
use crate::domain::units::Moment;
use crate::store::columns::{Ts, fold, unknown};
use crate::store::{BranchId, PersonId, StoreError};
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};

/// What became of a letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// It waits for its first or next try.
    Waiting {
        /// When it is tried next.
        next_at: Moment,
    },
    /// The mail server has taken it.
    Sent {
        /// When.
        at: Moment,
    },
    /// It was refused too often and is not tried any more.
    Left {
        /// When it was left.
        at: Moment,
    },
}

/// Which letters are wanted by what became of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// Those that wait.
    Waiting,
    /// Those that were sent.
    Sent,
    /// Those that are not tried any more.
    Left,
}

/// Which letters are wanted.
#[derive(Clone, Debug, Default)]
pub struct LettersFilter {
    /// Only to people of this branch.
    pub branch: Option<BranchId>,
    /// Only of this kind.
    pub kind: Option<Kind>,
    /// Only these.
    pub state: Option<Wanted>,
    /// Only to whom whose name or address contains this, whatever the case.
    pub search: Option<String>,
}

/// One letter on the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LetterLine {
    /// What kind of letter.
    pub kind: Kind,
    /// Whose it is; nothing of letters from before that was kept whose person has another address now.
    pub person_id: Option<PersonId>,
    /// To whom.
    pub name: String,
    /// To which address.
    pub address: String,
    /// Their branch now.
    pub branch_name: Option<String>,
    /// When it was written.
    pub written_at: Moment,
    /// What became of it.
    pub state: State,
    /// How often it was tried.
    pub tries: i32,
    /// Why the last try failed.
    pub cause: Option<String>,
}

/// One page of letters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LettersPage {
    /// The newest first.
    pub letters: Vec<LetterLine>,
    /// How many there are on all pages.
    pub total: u64,
}

#[derive(FromQueryResult)]
struct Row {
    deed: String,
    person_id: Option<PersonId>,
    to_name: String,
    to_address: String,
    branch_name: Option<String>,
    created_at: Ts,
    due_at: Ts,
    sent_at: Option<Ts>,
    left_at: Option<Ts>,
    tries: i32,
    last_error: Option<String>,
}

#[derive(FromQueryResult)]
struct Total {
    total: i64,
}

const FROM: &str = "FROM outbox o
LEFT JOIN person p ON p.id = o.person_id
LEFT JOIN branch b ON b.id = p.branch_id
WHERE ($1 = 0 OR p.branch_id = $1) AND ($2 = '' OR o.deed = $2)
  AND ($3 = '' OR ($3 = 'sent' AND o.sent_at IS NOT NULL) OR ($3 = 'left' AND o.left_at IS NOT NULL)
    OR ($3 = 'waiting' AND o.sent_at IS NULL AND o.left_at IS NULL))
  AND ($4 = '' OR p.name_norm LIKE $4 ESCAPE '\\' OR lower(o.to_address) LIKE $4 ESCAPE '\\')";

const COLUMNS: &str =
    "SELECT o.deed, o.person_id, o.to_name, o.to_address, b.name AS branch_name, o.created_at, o.due_at,
  o.sent_at, o.left_at, o.tries, o.last_error";

/// A page of letters; the first is number 1.
///
/// # Errors
/// Those of every query.
pub async fn letters(
    db: &impl ConnectionTrait,
    filter: &LettersFilter,
    page: u64,
    page_size: u64,
) -> Result<LettersPage, StoreError> {
    let state = match filter.state {
        None => "",
        Some(Wanted::Waiting) => "waiting",
        Some(Wanted::Sent) => "sent",
        Some(Wanted::Left) => "left",
    };
    let branch = filter.branch.map_or(0, |branch| branch.0);
    let kind = filter.kind.map_or("", Kind::id);
    let values = || [branch.into(), kind.into(), state.into(), pattern(filter.search.as_deref()).into()];
    let backend = db.get_database_backend();
    let counted = Statement::from_sql_and_values(backend, format!("SELECT count(*) AS total {FROM}"), values());
    let total = Total::find_by_statement(counted).one(db).await?.map_or(0, |row| row.total);
    let skipped = page.saturating_sub(1).saturating_mul(page_size);
    let sql = format!("{COLUMNS} {FROM} ORDER BY o.created_at DESC, o.id DESC LIMIT {page_size} OFFSET {skipped}");
    let rows = Row::find_by_statement(Statement::from_sql_and_values(backend, sql, values())).all(db).await?;
    let letters = rows.into_iter().map(LetterLine::try_from).collect::<Result<_, _>>()?;
    Ok(LettersPage { letters, total: u64::try_from(total).unwrap_or_default() })
}

/// What a name or an address is like that contains the text, in which `%` and `_` are only themselves.
fn pattern(text: Option<&str>) -> String {
    let text = fold(text.unwrap_or_default()).replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_");
    if text.is_empty() { text } else { format!("%{text}%") }
}

impl TryFrom<Row> for LetterLine {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let state = match (row.sent_at, row.left_at) {
            (Some(at), _) => State::Sent { at: at.into() },
            (None, Some(at)) => State::Left { at: at.into() },
            (None, None) => State::Waiting { next_at: row.due_at.into() },
        };
        Ok(Self {
            kind: Kind::from_id(&row.deed).ok_or_else(|| unknown("outbox.deed", &row.deed))?,
            person_id: row.person_id,
            name: row.to_name,
            address: row.to_address,
            branch_name: row.branch_name,
            written_at: row.created_at.into(),
            state,
            tries: row.tries,
            cause: row.last_error,
        })
    }
}
