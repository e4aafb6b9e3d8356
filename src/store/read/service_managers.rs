//! Who looks after a branch and is written to about it.

use crate::domain::people::{Permission, Role, allows};
use crate::store::entity::{branch, person};
use crate::store::{BranchId, PersonId, StoreError, columns};
use sea_orm::{ColumnTrait, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder};

/// Somebody who looks after a branch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ServiceManager {
    /// Who.
    pub person_id: PersonId,
    /// Their name.
    pub display_name: String,
    /// Their e-mail address.
    pub email: String,
    /// What they are here.
    pub role: Role,
    /// The branch.
    pub branch_id: BranchId,
    /// Its name.
    pub branch_name: String,
    /// Its IANA time zone.
    pub time_zone: String,
}

/// Everyone active who may see who is qualified, by branch and name.
///
/// # Errors
/// Those of every query.
pub async fn service_managers(db: &impl ConnectionTrait) -> Result<Vec<ServiceManager>, StoreError> {
    let roles = Role::ALL.into_iter().filter(|role| allows(*role, Permission::SeeQualifications)).map(Role::id);
    let rows = person::Entity::find()
        .find_also_related(branch::Entity)
        .filter(person::Column::Active.eq(true))
        .filter(person::Column::Role.is_in(roles))
        .order_by_asc(branch::Column::Name)
        .order_by_asc(person::Column::NameNorm)
        .order_by_asc(person::Column::Id)
        .all(db)
        .await?;
    let manager = |(person, branch): (person::Model, Option<branch::Model>)| {
        let branch = branch.ok_or_else(|| StoreError::Corrupt(format!("person {} has no branch", person.id)))?;
        Ok(ServiceManager {
            role: columns::role(&person.role)?,
            person_id: person.id,
            display_name: person.display_name,
            email: person.email,
            branch_id: branch.id,
            branch_name: branch.name,
            time_zone: branch.time_zone,
        })
    };
    rows.into_iter().map(manager).collect()
}
