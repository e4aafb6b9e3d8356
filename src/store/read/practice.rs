//! How much a person has practised, module by module.

use crate::store::{PersonId, StoreError};
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};
use std::collections::BTreeMap;

/// A person's practice in one module.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Practised {
    /// How many questions were answered.
    pub answered: i64,
    /// How many of them rightly.
    pub right: i64,
}

#[derive(FromQueryResult)]
struct Row {
    module_key: String,
    correct: bool,
    answers: i64,
}

const PRACTISED: &str = "SELECT a.module_key, g.correct, count(*) AS answers
FROM attempt a JOIN grade g ON g.attempt_id = a.id
WHERE a.person_id = $1 AND a.kind = 'practice' AND a.module_key IS NOT NULL
GROUP BY a.module_key, g.correct";

/// What a person has practised, by module; a module that is not in it was never practised.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<BTreeMap<String, Practised>, StoreError> {
    let statement = Statement::from_sql_and_values(db.get_database_backend(), PRACTISED, [person.0.into()]);
    let mut modules: BTreeMap<String, Practised> = BTreeMap::new();
    for row in Row::find_by_statement(statement).all(db).await? {
        let practised = modules.entry(row.module_key).or_default();
        practised.answered += row.answers;
        practised.right += if row.correct { row.answers } else { 0 };
    }
    Ok(modules)
}
