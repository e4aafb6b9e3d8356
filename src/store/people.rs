//! People: who they are, how they sign in, how they want to read.
//!
//! Never deletes a person: the record points at them. Never hands out a password's hash except by
//! [`find_password_phc`].

use super::{
    BranchId, PersonId, StoreError, columns,
    entity::{branch, person},
};
use crate::domain::{
    people::{EmailAddress, PersonName, Role},
    units::{Moment, TemperatureUnit},
};
use sea_orm::{
    ActiveValue::Set,
    Condition, ConnectionTrait, EntityTrait, ExprTrait, PaginatorTrait, QueryFilter, QueryOrder, QuerySelect,
    prelude::*,
    sea_query::{LikeExpr, LockType, SimpleExpr},
};
use std::collections::BTreeSet;

/// A person. Name and address are as they were entered; what is compared is kept beside them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Person {
    /// Their number.
    pub id: PersonId,
    /// Where they belong.
    pub branch_id: BranchId,
    /// Their e-mail address as entered.
    pub email: String,
    /// Their name.
    pub display_name: String,
    /// What they are here.
    pub role: Role,
    /// Whether they have chosen a password yet.
    pub has_password: bool,
    /// The scale they read temperatures in.
    pub temperature_unit: TemperatureUnit,
    /// Whether they may sign in.
    pub active: bool,
    /// The scheme they are working towards.
    pub scheme_key: Option<String>,
    /// Since when they are known here.
    pub created_at: Moment,
}

/// What is needed to add a person.
#[derive(Clone, Debug)]
pub struct NewPerson {
    /// Where they belong.
    pub branch_id: BranchId,
    /// Their e-mail address.
    pub email: EmailAddress,
    /// Their name.
    pub display_name: PersonName,
    /// What they are here.
    pub role: Role,
    /// The hash of their password, when they have one already.
    pub password_phc: Option<String>,
    /// The scale they read temperatures in.
    pub temperature_unit: TemperatureUnit,
    /// The scheme they are working towards.
    pub scheme_key: Option<String>,
    /// Now.
    pub created_at: Moment,
}

/// Which people to list.
#[derive(Clone, Debug, Default)]
pub struct PeopleFilter {
    /// Only of this branch.
    pub branch: Option<BranchId>,
    /// Only of this role.
    pub role: Option<Role>,
    /// Only whose name or address contains this, whatever the case.
    pub search: Option<String>,
    /// Only those who may sign in, or only those who may not.
    pub active: Option<bool>,
}

/// One page of people with the names of their branches.
#[derive(Clone, Debug)]
pub struct PeoplePage {
    /// The people of this page, by name.
    pub people: Vec<(Person, String)>,
    /// How many there are on all pages.
    pub total: u64,
}

impl TryFrom<person::Model> for Person {
    type Error = StoreError;
    fn try_from(row: person::Model) -> Result<Self, StoreError> {
        Ok(Self {
            id: row.id,
            branch_id: row.branch_id,
            email: row.email,
            display_name: row.display_name,
            role: columns::role(&row.role)?,
            has_password: row.password_phc.is_some(),
            temperature_unit: columns::unit(&row.temperature_unit)?,
            active: row.active,
            scheme_key: row.scheme_key,
            created_at: row.created_at.into(),
        })
    }
}

/// How many people may sign in but have chosen no password yet.
///
/// # Errors
/// Those of every query.
pub async fn count_without_password(db: &impl ConnectionTrait) -> Result<u64, StoreError> {
    let waiting =
        person::Entity::find().filter(person::Column::Active.eq(true)).filter(person::Column::PasswordPhc.is_null());
    Ok(waiting.count(db).await?)
}

/// Adds a person, who may sign in as soon as they have a password.
///
/// # Errors
/// [`super::conflict::EMAIL`] when the address is taken, in whatever case it is written.
pub async fn insert(db: &impl ConnectionTrait, new: NewPerson) -> Result<PersonId, StoreError> {
    let row = person::ActiveModel {
        branch_id: Set(new.branch_id),
        email: Set(new.email.as_str().to_owned()),
        email_norm: Set(new.email.folded()),
        name_norm: Set(columns::fold(new.display_name.as_str())),
        display_name: Set(new.display_name.into()),
        role: Set(new.role.id().to_owned()),
        password_phc: Set(new.password_phc),
        temperature_unit: Set(columns::unit_text(new.temperature_unit).to_owned()),
        active: Set(true),
        scheme_key: Set(new.scheme_key),
        created_at: Set(new.created_at.into()),
        ..Default::default()
    };
    Ok(person::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// The person of this number.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn by_id(db: &impl ConnectionTrait, id: PersonId) -> Result<Person, StoreError> {
    person::Entity::find_by_id(id).one(db).await?.ok_or(StoreError::NotFound)?.try_into()
}

/// Waits until no other transaction is about to do something for this person that must not be done twice, and holds the next one
/// off until this one has ended. On SQLite there is one writer anyway.
///
/// Always in this order, or two would wait for each other: the sitting that is closed, people by their numbers, everything else,
/// and the record's end as the last.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person.
pub async fn in_turn(db: &impl ConnectionTrait, id: PersonId) -> Result<(), StoreError> {
    // Not the stronger lock: rows that point at the person go on being written meanwhile.
    let row = person::Entity::find_by_id(id).lock(LockType::NoKeyUpdate).one(db).await?;
    row.map(drop).ok_or(StoreError::NotFound)
}

/// The same for a person and for everybody of a role who may sign in: whoever counts these afterwards counts nobody who is about to
/// go. All of them in the order of their numbers, so that no two who ask for this wait for each other.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person.
pub async fn in_turn_beside(db: &impl ConnectionTrait, id: PersonId, role: Role) -> Result<(), StoreError> {
    let who = PeopleFilter { role: Some(role), active: Some(true), ..PeopleFilter::default() };
    let those = Condition::any().add(person::Column::Id.eq(id)).add(condition(&who));
    let found = person::Entity::find().filter(those).order_by_asc(person::Column::Id).lock(LockType::NoKeyUpdate);
    let there = found.all(db).await?.iter().any(|row| row.id == id);
    if there { Ok(()) } else { Err(StoreError::NotFound) }
}

/// The person whose address this is; `email_norm` is [`EmailAddress::folded`].
///
/// # Errors
/// Those of every query.
pub async fn find_by_email_norm(db: &impl ConnectionTrait, email_norm: &str) -> Result<Option<Person>, StoreError> {
    let row = person::Entity::find().filter(person::Column::EmailNorm.eq(email_norm)).one(db).await?;
    row.map(Person::try_from).transpose()
}

/// The same with the hash of their password, when they have chosen one: one query, whether or not there is anybody, so that
/// its time says nothing.
///
/// # Errors
/// Those of every query.
pub async fn find_with_password(
    db: &impl ConnectionTrait,
    email_norm: &str,
) -> Result<Option<(Person, Option<String>)>, StoreError> {
    let row = person::Entity::find().filter(person::Column::EmailNorm.eq(email_norm)).one(db).await?;
    let Some(mut row) = row else { return Ok(None) };
    let phc = row.password_phc.take();
    let has_password = phc.is_some();
    Ok(Some((Person { has_password, ..row.try_into()? }, phc)))
}

/// The branches and names of all who may sign in, names in lower case, for telling people apart.
///
/// # Errors
/// Those of every query.
pub async fn names(db: &impl ConnectionTrait) -> Result<BTreeSet<(BranchId, String)>, StoreError> {
    let rows: Vec<(BranchId, String)> = person::Entity::find()
        .select_only()
        .column(person::Column::BranchId)
        .column(person::Column::NameNorm)
        .filter(person::Column::Active.eq(true))
        .into_tuple()
        .all(db)
        .await?;
    Ok(rows.into_iter().collect())
}

/// The hash of a person's password, when they have chosen one.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person.
pub async fn find_password_phc(db: &impl ConnectionTrait, id: PersonId) -> Result<Option<String>, StoreError> {
    Ok(person::Entity::find_by_id(id).one(db).await?.ok_or(StoreError::NotFound)?.password_phc)
}

/// One page of the people that match, by name; `page` counts from 1.
///
/// # Errors
/// Those of every query.
pub async fn list(
    db: &impl ConnectionTrait,
    filter: &PeopleFilter,
    page: u64,
    page_size: u64,
) -> Result<PeoplePage, StoreError> {
    let matching = person::Entity::find().filter(condition(filter));
    let total = matching.clone().count(db).await?;
    let rows = matching
        .find_also_related(branch::Entity)
        .order_by_asc(person::Column::NameNorm)
        .order_by_asc(person::Column::Id)
        .offset(page.saturating_sub(1).saturating_mul(page_size))
        .limit(page_size)
        .all(db)
        .await?;
    let people = rows
        .into_iter()
        .map(|(row, branch)| Ok((row.try_into()?, branch.map_or_else(String::new, |branch| branch.name))))
        .collect::<Result<_, StoreError>>()?;
    Ok(PeoplePage { people, total })
}

fn condition(filter: &PeopleFilter) -> Condition {
    let searched = filter.search.as_deref().map(columns::fold).filter(|text| !text.is_empty());
    Condition::all()
        .add_option(filter.branch.map(|branch| person::Column::BranchId.eq(branch)))
        .add_option(filter.role.map(|role| person::Column::Role.eq(role.id())))
        .add_option(filter.active.map(|active| person::Column::Active.eq(active)))
        .add_option(searched.map(|text| {
            Condition::any()
                .add(contains(person::Column::NameNorm, &text))
                .add(contains(person::Column::EmailNorm, &text))
        }))
}

/// The column contains the text, in which `%` and `_` are only themselves.
fn contains(column: person::Column, text: &str) -> SimpleExpr {
    let text = text.replace('\\', "\\\\").replace('%', "\\%").replace('_', "\\_");
    Expr::col((person::Entity, column)).like(LikeExpr::new(format!("%{text}%")).escape('\\'))
}

/// Changes one column of one person.
async fn set(
    db: &impl ConnectionTrait,
    id: PersonId,
    column: person::Column,
    value: impl Into<SimpleExpr>,
) -> Result<(), StoreError> {
    let changed = person::Entity::update_many()
        .col_expr(column, value.into())
        .filter(person::Column::Id.eq(id))
        .exec(db)
        .await?
        .rows_affected;
    if changed == 1 { Ok(()) } else { Err(StoreError::NotFound) }
}

/// Gives a person a new password, by its hash.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person.
pub async fn set_password(db: &impl ConnectionTrait, id: PersonId, phc: &str) -> Result<(), StoreError> {
    set(db, id, person::Column::PasswordPhc, phc).await
}

/// Makes a person something else here.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person.
pub async fn set_role(db: &impl ConnectionTrait, id: PersonId, role: Role) -> Result<(), StoreError> {
    set(db, id, person::Column::Role, role.id()).await
}

/// Moves a person to another branch.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person, [`super::conflict::REFERENCE`] when there is no such branch.
pub async fn set_branch(db: &impl ConnectionTrait, id: PersonId, branch: BranchId) -> Result<(), StoreError> {
    set(db, id, person::Column::BranchId, branch.0).await
}

/// Changes the scale a person reads temperatures in.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person.
pub async fn set_unit(db: &impl ConnectionTrait, id: PersonId, unit: TemperatureUnit) -> Result<(), StoreError> {
    set(db, id, person::Column::TemperatureUnit, columns::unit_text(unit)).await
}

/// Lets a person sign in, or no longer.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person.
pub async fn set_active(db: &impl ConnectionTrait, id: PersonId, active: bool) -> Result<(), StoreError> {
    set(db, id, person::Column::Active, active).await
}

/// Changes what a person is working towards.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person.
pub async fn set_scheme(db: &impl ConnectionTrait, id: PersonId, scheme: Option<&str>) -> Result<(), StoreError> {
    set(db, id, person::Column::SchemeKey, Expr::val(scheme.map(str::to_owned))).await
}

/// How many people of a role may sign in.
///
/// # Errors
/// Those of every query.
pub async fn count_active(db: &impl ConnectionTrait, role: Role) -> Result<u64, StoreError> {
    Ok(person::Entity::find()
        .filter(condition(&PeopleFilter { role: Some(role), active: Some(true), ..PeopleFilter::default() }))
        .count(db)
        .await?)
}

/// Takes a person's name, address and password away for good; they can sign in no more. The row stays: the record
/// points at it.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such person.
pub async fn anonymise(db: &impl ConnectionTrait, id: PersonId, name: &str, address: &str) -> Result<(), StoreError> {
    let row = person::ActiveModel {
        id: Set(id),
        email: Set(address.to_owned()),
        email_norm: Set(columns::fold(address)),
        display_name: Set(name.to_owned()),
        name_norm: Set(columns::fold(name)),
        password_phc: Set(None),
        scheme_key: Set(None),
        active: Set(false),
        ..Default::default()
    };
    person::Entity::update(row).exec(db).await?;
    Ok(())
}
