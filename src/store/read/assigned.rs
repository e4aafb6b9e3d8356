//! What people have done towards what they were told to do: lessons and certificates of everybody, in a fixed number of
//! queries.

use super::certification::{Certification, of_everyone};
use crate::domain::people::Role;
use crate::store::entity::{branch, lesson_read, person};
use crate::store::{BranchId, PersonId, StoreError, columns};
use sea_orm::{ColumnTrait, Condition, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder};
use std::collections::{BTreeMap, BTreeSet};

/// Somebody who can be told to do something.
#[derive(Clone, Debug, PartialEq)]
pub struct Learner {
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
    /// The branch's time zone: their days begin and end in it.
    pub time_zone: String,
    /// Their certificates.
    pub certification: Certification,
    /// The lessons that they have read of the modules that were asked about, as module and lesson.
    pub read: BTreeSet<(String, String)>,
}

/// Everyone active who is a technician or a trainer, by branch and name, with their certificates and what they have read of some
/// modules; of one branch or of all.
///
/// # Errors
/// Those of every query.
pub async fn learners(
    db: &impl ConnectionTrait,
    of: Option<BranchId>,
    modules: &BTreeSet<String>,
) -> Result<Vec<Learner>, StoreError> {
    let mut certifications = of_everyone(db, of).await?;
    let mut read: BTreeMap<PersonId, BTreeSet<(String, String)>> = BTreeMap::new();
    let of_modules =
        lesson_read::Entity::find().filter(lesson_read::Column::ModuleKey.is_in(modules.iter().map(String::as_str)));
    for row in of_modules.all(db).await? {
        read.entry(row.person_id).or_default().insert((row.module_key, row.lesson_key));
    }
    let people = person::Entity::find()
        .find_also_related(branch::Entity)
        .filter(person::Column::Active.eq(true))
        .filter(person::Column::Role.is_in([Role::Technician.id(), Role::Trainer.id()]))
        .filter(Condition::all().add_option(of.map(|branch| person::Column::BranchId.eq(branch))))
        .order_by_asc(branch::Column::Name)
        .order_by_asc(person::Column::NameNorm)
        .order_by_asc(person::Column::Id)
        .all(db)
        .await?;
    let learner = |(person, branch): (person::Model, Option<branch::Model>)| {
        let branch = branch.ok_or_else(|| StoreError::Corrupt(format!("person {} has no branch", person.id)))?;
        Ok(Learner {
            certification: certifications.remove(&person.id).unwrap_or_default(),
            read: read.remove(&person.id).unwrap_or_default(),
            person_id: person.id,
            display_name: person.display_name,
            email: person.email,
            role: columns::role(&person.role)?,
            branch_id: person.branch_id,
            branch_name: branch.name,
            time_zone: branch.time_zone,
        })
    };
    people.into_iter().map(learner).collect()
}
