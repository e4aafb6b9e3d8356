//! Branches with who is there in numbers: two queries for any number of people.

use crate::domain::people::Role;
use crate::store::branches::{self, Branch};
use crate::store::{BranchId, StoreError, columns};
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};
use std::collections::BTreeMap;

/// A branch and how many people it has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BranchCount {
    /// The branch.
    pub branch: Branch,
    /// Those who may sign in, by role; a role that nobody has is not in it.
    pub active: BTreeMap<Role, i64>,
    /// Those who may no longer sign in.
    pub suspended: i64,
}

#[derive(FromQueryResult)]
struct Row {
    branch_id: BranchId,
    role: String,
    active: bool,
    people: i64,
}

const COUNTED: &str = "SELECT branch_id, role, active, count(*) AS people FROM person GROUP BY branch_id, role, active";

/// Every branch, by name.
///
/// # Errors
/// Those of every query.
pub async fn counts(db: &impl ConnectionTrait) -> Result<Vec<BranchCount>, StoreError> {
    let empty = |branch| BranchCount { branch, active: BTreeMap::new(), suspended: 0 };
    let mut counts: Vec<BranchCount> = branches::list(db).await?.into_iter().map(empty).collect();
    let rows = Row::find_by_statement(Statement::from_string(db.get_database_backend(), COUNTED)).all(db).await?;
    for row in rows {
        let Some(of) = counts.iter_mut().find(|count| count.branch.id == row.branch_id) else { continue };
        if row.active {
            *of.active.entry(columns::role(&row.role)?).or_default() += row.people;
        } else {
            of.suspended += row.people;
        }
    }
    Ok(counts)
}
