//! People and their competences: a fixed number of queries for any number of people.

use super::certification::{Certification, of_everyone};
use crate::domain::people::Role;
use crate::store::{
    BranchId, PersonId, StoreError, columns,
    entity::{branch, person, qualification},
    qualifications::Qualification,
};
use sea_orm::{
    ColumnTrait, Condition, ConnectionTrait, EntityTrait, FromQueryResult, QueryFilter, QueryOrder, Statement,
};
use std::collections::BTreeMap;

/// Which part of the matrix is wanted. People who may no longer sign in are left out unless it is the whole.
#[derive(Clone, Debug, Default)]
pub struct MatrixFilter {
    /// Only people of this branch.
    pub branch: Option<BranchId>,
    /// Only this competence.
    pub competence: Option<String>,
    /// Everything that was ever entered, not only what decides now; and people who may no longer sign in, too.
    pub whole: bool,
}

/// One person's line.
#[derive(Clone, Debug, PartialEq)]
pub struct MatrixRow {
    /// Who.
    pub person_id: PersonId,
    /// Their name.
    pub display_name: String,
    /// Their e-mail address.
    pub email: String,
    /// What they are here.
    pub role: Role,
    /// Where they belong.
    pub branch_id: BranchId,
    /// The branch's name.
    pub branch_name: String,
    /// Whether they may sign in.
    pub active: bool,
    /// What they are working towards, if anything.
    pub scheme_key: Option<String>,
    /// The entries by competence, from the last one that qualified on, oldest first: all that their standing depends on.
    /// A competence that is not here was never decided about.
    pub cells: BTreeMap<String, Vec<Qualification>>,
    /// The person's certificates, what happened with them, and what waits for a decision.
    pub certification: Certification,
}

/// The entries of each person and competence, from the last one that qualified on. A safety miss stays open until the
/// next pass, so the last entry alone would not tell.
const SINCE_THE_LAST_PASS: &str = "SELECT q.* FROM (
  SELECT *,
    max(CASE WHEN outcome = 'qualified' THEN id END) OVER (PARTITION BY person_id, competence_key) AS last_pass
  FROM qualification) q
JOIN person p ON p.id = q.person_id
WHERE p.active AND (q.last_pass IS NULL OR q.id >= q.last_pass)
  AND ($1 = 0 OR p.branch_id = $1) AND ($2 = '' OR q.competence_key = $2)
ORDER BY q.id";

/// Every entry, whoever it is about.
const EVERYTHING: &str = "SELECT q.* FROM qualification q JOIN person p ON p.id = q.person_id
WHERE ($1 = 0 OR p.branch_id = $1) AND ($2 = '' OR q.competence_key = $2)
ORDER BY q.id";

/// Every active person by branch and name, with what was decided about each competence.
///
/// # Errors
/// Those of every query.
pub async fn matrix(db: &impl ConnectionTrait, filter: &MatrixFilter) -> Result<Vec<MatrixRow>, StoreError> {
    let mut cells = cells(db, filter).await?;
    let mut certifications = of_everyone(db, filter.branch).await?;
    let people = person::Entity::find()
        .find_also_related(branch::Entity)
        .filter(Condition::all().add_option((!filter.whole).then(|| person::Column::Active.eq(true))))
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
                certification: certifications.remove(&person.id).unwrap_or_default(),
                person_id: person.id,
                display_name: person.display_name,
                email: person.email,
                active: person.active,
                scheme_key: person.scheme_key,
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
) -> Result<BTreeMap<PersonId, BTreeMap<String, Vec<Qualification>>>, StoreError> {
    let branch = filter.branch.map_or(0, |branch| branch.0);
    let competence = filter.competence.clone().unwrap_or_default();
    let sql = if filter.whole { EVERYTHING } else { SINCE_THE_LAST_PASS };
    let values = [branch.into(), competence.into()];
    let statement = Statement::from_sql_and_values(db.get_database_backend(), sql, values);
    let mut people: BTreeMap<PersonId, BTreeMap<String, Vec<Qualification>>> = BTreeMap::new();
    for row in db.query_all_raw(statement).await? {
        let found = Qualification::from(qualification::Model::from_query_result(&row, "")?);
        let of_person = people.entry(found.entry.person_id).or_default();
        of_person.entry(found.entry.competence_key.clone()).or_default().push(found);
    }
    Ok(people)
}
