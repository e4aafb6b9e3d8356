//! What people are to do by a day, and what of it was withdrawn.
//!
//! Never keeps whether it is done: that follows from the record. Never changes or removes one, and the database refuses both.

use super::columns::{self, from_word, word};
use super::entity::{assignment, assignment_withdrawal};
use super::{AssignmentId, BranchId, PersonId, RecordEntryId, StoreError};
use crate::domain::certification::assignment::Kind;
use crate::domain::people::Role;
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryOrder};
use std::collections::{BTreeMap, BTreeSet};

/// Who is to do it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ToWhom {
    /// One person.
    Person(PersonId),
    /// Everyone at a branch, now and later.
    Branch(BranchId),
    /// Everyone of a role, now and later.
    Role(Role),
}

/// What is needed to assign something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewAssignment {
    /// Who is to do it.
    pub to: ToWhom,
    /// What kind of thing.
    pub kind: Kind,
    /// The scheme or the module.
    pub thing_key: String,
    /// The last day for it, as `2026-12-01`, in each person's own time zone.
    pub due_day: String,
    /// Who assigned it.
    pub made_by: PersonId,
    /// When.
    pub made_at: Moment,
    /// What the form carried: the same again is the same click.
    pub key: String,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

/// That an assignment no longer counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Withdrawal {
    /// Why, in words.
    pub reason: String,
    /// Who withdrew it.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

/// An assignment as it is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Assignment {
    /// Its number.
    pub id: AssignmentId,
    /// What it says.
    pub entry: NewAssignment,
    /// That it no longer counts.
    pub withdrawn: Option<Withdrawal>,
}

impl Assignment {
    /// Whether it is for a person of this number, branch and role. A branch means everyone there who may be examined.
    #[must_use]
    pub fn is_for(&self, person: PersonId, branch: BranchId, role: Role) -> bool {
        let learns = matches!(role, Role::Technician | Role::Trainer);
        match self.entry.to {
            ToWhom::Person(one) => one == person,
            ToWhom::Branch(one) => one == branch && learns,
            ToWhom::Role(one) => one == role,
        }
    }
}

/// The modules that are assigned in some assignments.
#[must_use]
pub fn modules_of(assignments: &[Assignment]) -> BTreeSet<String> {
    let modules = assignments.iter().filter(|of| of.entry.kind == Kind::Module);
    modules.map(|of| of.entry.thing_key.clone()).collect()
}

/// Keeps one.
///
/// # Errors
/// [`super::conflict::ASSIGNMENT`] when the same click has assigned it already.
pub async fn append(db: &impl ConnectionTrait, new: NewAssignment) -> Result<AssignmentId, StoreError> {
    let (mut person, mut branch, mut role) = (None, None, None);
    match new.to {
        ToWhom::Person(one) => person = Some(one),
        ToWhom::Branch(one) => branch = Some(one),
        ToWhom::Role(one) => role = Some(one.id().to_owned()),
    }
    let row = assignment::ActiveModel {
        person_id: Set(person),
        branch_id: Set(branch),
        role: Set(role),
        kind: Set(word(new.kind)),
        thing_key: Set(new.thing_key),
        due_day: Set(new.due_day),
        made_by: Set(new.made_by),
        made_at: Set(new.made_at.into()),
        key: Set(new.key),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    Ok(assignment::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// Keeps that one no longer counts.
///
/// # Errors
/// [`super::conflict::ASSIGNMENT_WITHDRAWAL`] when it was withdrawn already.
pub async fn withdraw(db: &impl ConnectionTrait, id: AssignmentId, of: Withdrawal) -> Result<(), StoreError> {
    let row = assignment_withdrawal::ActiveModel {
        assignment_id: Set(id),
        reason: Set(of.reason),
        withdrawn_by: Set(of.by),
        withdrawn_at: Set(of.at.into()),
        record_entry_id: Set(of.record_entry_id),
    };
    assignment_withdrawal::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// The assignment of this number.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn by_id(db: &impl ConnectionTrait, id: AssignmentId) -> Result<Assignment, StoreError> {
    let row = assignment::Entity::find_by_id(id).one(db).await?.ok_or(StoreError::NotFound)?;
    let withdrawal = assignment_withdrawal::Entity::find_by_id(id).one(db).await?;
    whole(row, withdrawal)
}

/// Every assignment, the one that is due first in front; two queries.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<Assignment>, StoreError> {
    let rows = assignment::Entity::find()
        .order_by_asc(assignment::Column::DueDay)
        .order_by_asc(assignment::Column::Id)
        .all(db)
        .await?;
    let withdrawals = assignment_withdrawal::Entity::find().all(db).await?;
    let mut withdrawals: BTreeMap<AssignmentId, assignment_withdrawal::Model> =
        withdrawals.into_iter().map(|row| (row.assignment_id, row)).collect();
    rows.into_iter()
        .map(|row| {
            let of = withdrawals.remove(&row.id);
            whole(row, of)
        })
        .collect()
}

/// Every assignment that counts for somebody, or did: theirs, their branch's, their role's.
///
/// # Errors
/// Those of every query.
pub async fn of_person(
    db: &impl ConnectionTrait,
    person: PersonId,
    branch: BranchId,
    role: Role,
) -> Result<Vec<Assignment>, StoreError> {
    Ok(all(db).await?.into_iter().filter(|one| one.is_for(person, branch, role)).collect())
}

fn whole(row: assignment::Model, of: Option<assignment_withdrawal::Model>) -> Result<Assignment, StoreError> {
    let to = match (row.person_id, row.branch_id, row.role.as_deref()) {
        (Some(person), None, None) => ToWhom::Person(person),
        (None, Some(branch), None) => ToWhom::Branch(branch),
        (None, None, Some(role)) => ToWhom::Role(columns::role(role)?),
        _ => return Err(StoreError::Corrupt(format!("assignment {} is for nobody, or for two", row.id))),
    };
    let withdrawn = of.map(|of| Withdrawal {
        reason: of.reason,
        by: of.withdrawn_by,
        at: of.withdrawn_at.into(),
        record_entry_id: of.record_entry_id,
    });
    Ok(Assignment {
        id: row.id,
        entry: NewAssignment {
            to,
            kind: from_word("assignment.kind", &row.kind)?,
            thing_key: row.thing_key,
            due_day: row.due_day,
            made_by: row.made_by,
            made_at: row.made_at.into(),
            key: row.key,
            record_entry_id: row.record_entry_id,
        },
        withdrawn,
    })
}
