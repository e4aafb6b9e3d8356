//! Invigilations: times in which sittings of one scheme at one branch are watched, each with its code.
//!
//! Never opens one for another branch: whose branch it is, is part of every question that somebody asks.

use super::{BranchId, InvigilationId, PersonId, StoreError, entity::invigilation};
use crate::domain::examination::code::Code;
use crate::domain::units::Moment;
use sea_orm::{
    ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect, prelude::*, sea_query::Expr,
};

/// One of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Invigilation {
    /// Its number.
    pub id: InvigilationId,
    /// The scheme whose sittings are watched.
    pub scheme_key: String,
    /// Where.
    pub branch_id: BranchId,
    /// What candidates type to begin.
    pub code: Code,
    /// Who opened it.
    pub opened_by: PersonId,
    /// When.
    pub opened_at: Moment,
    /// From when the code opens nothing any more.
    pub expires_at: Moment,
    /// When somebody closed it before that.
    pub closed_at: Option<Moment>,
}

impl Invigilation {
    /// Whether its code opens sittings now.
    #[must_use]
    pub fn is_open(&self, now: Moment) -> bool {
        self.closed_at.is_none() && now < self.expires_at
    }
}

impl TryFrom<invigilation::Model> for Invigilation {
    type Error = StoreError;

    fn try_from(row: invigilation::Model) -> Result<Self, StoreError> {
        let code = Code::parse(&row.code).ok_or_else(|| StoreError::Corrupt("invigilation.code is none".to_owned()))?;
        Ok(Self {
            id: row.id,
            scheme_key: row.scheme_key,
            branch_id: row.branch_id,
            code,
            opened_by: row.opened_by,
            opened_at: row.opened_at.into(),
            expires_at: row.expires_at.into(),
            closed_at: row.closed_at.map(Moment::from),
        })
    }
}

/// What is needed to open one.
#[derive(Clone, Debug)]
pub struct NewInvigilation {
    /// The scheme.
    pub scheme_key: String,
    /// Where.
    pub branch_id: BranchId,
    /// What candidates type.
    pub code: Code,
    /// Who opens it.
    pub opened_by: PersonId,
    /// Now.
    pub opened_at: Moment,
    /// Until when.
    pub expires_at: Moment,
    /// What the form carried: the same again is the same click.
    pub key: String,
}

/// Opens one.
///
/// # Errors
/// [`super::conflict::INVIGILATION`] when the same click has opened it already.
pub async fn insert(db: &impl ConnectionTrait, new: NewInvigilation) -> Result<InvigilationId, StoreError> {
    let row = invigilation::ActiveModel {
        scheme_key: Set(new.scheme_key),
        branch_id: Set(new.branch_id),
        code: Set(new.code.as_str().to_owned()),
        opened_by: Set(new.opened_by),
        opened_at: Set(new.opened_at.into()),
        expires_at: Set(new.expires_at.into()),
        key: Set(new.key),
        ..Default::default()
    };
    Ok(invigilation::Entity::insert(row).exec(db).await?.last_insert_id)
}

/// The one of a code, whether or not it is open, locked until the transaction ends: nobody closes it in between.
///
/// # Errors
/// Those of every query.
pub async fn find_by_code(db: &impl ConnectionTrait, code: &Code) -> Result<Option<Invigilation>, StoreError> {
    let found = invigilation::Entity::find().filter(invigilation::Column::Code.eq(code.as_str())).lock_exclusive();
    found.one(db).await?.map(Invigilation::try_from).transpose()
}

/// The one that a click of a person has opened.
///
/// # Errors
/// Those of every query.
pub async fn find_by_key(
    db: &impl ConnectionTrait,
    opened_by: PersonId,
    key: &str,
) -> Result<Option<InvigilationId>, StoreError> {
    let own = invigilation::Entity::find().filter(invigilation::Column::OpenedBy.eq(opened_by));
    Ok(own.filter(invigilation::Column::Key.eq(key)).one(db).await?.map(|row| row.id))
}

/// One of a branch; another branch's looks like none.
///
/// # Errors
/// [`StoreError::NotFound`] when the branch has no such invigilation.
pub async fn by_id(
    db: &impl ConnectionTrait,
    branch: BranchId,
    id: InvigilationId,
) -> Result<Invigilation, StoreError> {
    let found = invigilation::Entity::find_by_id(id).filter(invigilation::Column::BranchId.eq(branch));
    found.one(db).await?.ok_or(StoreError::NotFound)?.try_into()
}

/// The newest of a branch, newest first.
///
/// # Errors
/// Those of every query.
pub async fn of_branch(
    db: &impl ConnectionTrait,
    branch: BranchId,
    at_most: u64,
) -> Result<Vec<Invigilation>, StoreError> {
    let found = invigilation::Entity::find().filter(invigilation::Column::BranchId.eq(branch));
    let rows = found.order_by_desc(invigilation::Column::Id).limit(at_most).all(db).await?;
    rows.into_iter().map(Invigilation::try_from).collect()
}

/// Closes one that nobody has closed; says whether it was open until then.
///
/// # Errors
/// Those of every query.
pub async fn close(
    db: &impl ConnectionTrait,
    id: InvigilationId,
    by: PersonId,
    now: Moment,
) -> Result<bool, StoreError> {
    let done = invigilation::Entity::update_many()
        .col_expr(invigilation::Column::ClosedAt, Expr::value(now.0))
        .col_expr(invigilation::Column::ClosedBy, Expr::value(by.0))
        .filter(invigilation::Column::Id.eq(id))
        .filter(invigilation::Column::ClosedAt.is_null())
        .exec(db)
        .await?;
    Ok(done.rows_affected == 1)
}
