//! People and their competences: two queries for any number of people.

use crate::domain::people::Role;
use crate::store::{
    BranchId, PersonId, StoreError, columns,
    entity::{branch, person, qualification},
    qualifications::{Qualification, QualificationOutcome},
};
use sea_orm::{
    ColumnTrait, Condition, ConnectionTrait, EntityTrait, FromQueryResult, QueryFilter, QueryOrder, Statement,
};
use std::collections::BTreeMap;

/// Which part of the matrix is wanted. People who may no longer sign in are left out.
#[derive(Clone, Debug, Default)]
pub struct MatrixFilter {
    /// Only people of this branch.
    pub branch: Option<BranchId>,
    /// Only this competence.
    pub competence: Option<String>,
}

/// One person's line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatrixRow {
    /// Who.
    pub person_id: PersonId,
    /// Their name.
    pub display_name: String,
    /// What they are here.
    pub role: Role,
    /// Where they belong.
    pub branch_id: BranchId,
    /// The branch's name.
    pub branch_name: String,
    /// What was decided last, by competence; a competence that is not here was never examined.
    pub cells: BTreeMap<String, MatrixCell>,
}

/// What was decided about one person's competence.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MatrixCell {
    /// The last entry.
    pub latest: Qualification,
    /// When the last entry is a refusal: the last entry before it that was none. Where that would still be valid, the
    /// competence is suspended rather than never held.
    pub held_before: Option<Qualification>,
}

/// The last entry of each person and competence, and the last one that qualified.
const LAST_ENTRIES: &str = "SELECT q.* FROM (
  SELECT *,
    row_number() OVER (PARTITION BY person_id, competence_key ORDER BY id DESC) AS place,
    row_number() OVER (PARTITION BY person_id, competence_key, outcome ORDER BY id DESC) AS place_of_outcome
  FROM qualification) q
JOIN person p ON p.id = q.person_id
WHERE p.active AND (q.place = 1 OR (q.outcome = 'qualified' AND q.place_of_outcome = 1))
  AND ($1 = 0 OR p.branch_id = $1) AND ($2 = '' OR q.competence_key = $2)
ORDER BY q.id";

/// Every active person by branch and name, with what was decided last about each competence.
///
/// # Errors
/// Those of every query.
pub async fn matrix(db: &impl ConnectionTrait, filter: &MatrixFilter) -> Result<Vec<MatrixRow>, StoreError> {
    let mut cells = cells(db, filter).await?;
    let people = person::Entity::find()
        .find_also_related(branch::Entity)
        .filter(person::Column::Active.eq(true))
        .filter(Condition::all().add_option(filter.branch.map(|branch| person::Column::BranchId.eq(branch))))
        .order_by_asc(branch::Column::Name)
        .order_by_asc(person::Column::NameNorm)
        .order_by_asc(person::Column::Id)
        .all(db)
        .await?;
    people
        .into_iter()
        .map(|(person, branch)| {
            Ok(MatrixRow {
                cells: cells.remove(&person.id).unwrap_or_default(),
                person_id: person.id,
                display_name: person.display_name,
                role: columns::role(&person.role)?,
                branch_id: person.branch_id,
                branch_name: branch.map_or_else(String::new, |branch| branch.name),
            })
        })
        .collect()
}

async fn cells(
    db: &impl ConnectionTrait,
    filter: &MatrixFilter,
) -> Result<BTreeMap<PersonId, BTreeMap<String, MatrixCell>>, StoreError> {
    let branch = filter.branch.map_or(0, |branch| branch.0);
    let competence = filter.competence.clone().unwrap_or_default();
    let statement =
        Statement::from_sql_and_values(db.get_database_backend(), LAST_ENTRIES, [branch.into(), competence.into()]);
    let mut people: BTreeMap<PersonId, BTreeMap<String, MatrixCell>> = BTreeMap::new();
    // Oldest first: the entry that qualified comes before the refusal that superseded it.
    for row in db.query_all_raw(statement).await? {
        let found = Qualification::from(qualification::Model::from_query_result(&row, "")?);
        let of_person = people.entry(found.entry.person_id).or_default();
        let key = found.entry.competence_key.clone();
        let before = of_person.remove(&key).map(|cell| cell.latest);
        let held_before = before.filter(|_| found.entry.outcome == QualificationOutcome::Refused);
        of_person.insert(key, MatrixCell { latest: found, held_before });
    }
    Ok(people)
}
