//! Decisions on proposals, and appeals against them.
//!
//! Never changes or removes one, and the database refuses both. It refuses a grant without a proposal to grant, too.

use super::columns::{from_word, word};
use super::entity::{appeal, appeal_decision, decision};
use super::{AttemptId, PersonId, ProposalId, RecordEntryId, StoreError};
use crate::domain::certification::decision::{Finding, Verdict};
use crate::domain::certification::proposal::Proposes;
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// A decision.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decision {
    /// About which sitting.
    pub attempt_id: AttemptId,
    /// On which proposal.
    pub proposal_id: ProposalId,
    /// What that proposed.
    pub proposes: Proposes,
    /// What was decided.
    pub verdict: Verdict,
    /// Why, in words; may be empty when it follows the proposal.
    pub reason: String,
    /// Who decided; nobody when it was granted by rule.
    pub decided_by: Option<PersonId>,
    /// When.
    pub decided_at: Moment,
    /// What the form carried: the same again is the same click.
    pub key: String,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

impl TryFrom<decision::Model> for Decision {
    type Error = StoreError;

    fn try_from(row: decision::Model) -> Result<Self, StoreError> {
        Ok(Self {
            attempt_id: row.attempt_id,
            proposal_id: row.proposal_id,
            proposes: from_word("decision.proposes", &row.proposes)?,
            verdict: from_word("decision.outcome", &row.outcome)?,
            reason: row.reason,
            decided_by: row.decided_by,
            decided_at: row.decided_at.into(),
            key: row.key,
            record_entry_id: row.record_entry_id,
        })
    }
}

/// Keeps a decision.
///
/// # Errors
/// [`super::conflict::DECISION`] when there is one about this sitting already.
pub async fn insert(db: &impl ConnectionTrait, new: Decision) -> Result<(), StoreError> {
    let row = decision::ActiveModel {
        attempt_id: Set(new.attempt_id),
        proposal_id: Set(new.proposal_id),
        proposes: Set(word(new.proposes)),
        outcome: Set(word(new.verdict)),
        reason: Set(new.reason),
        decided_by: Set(new.decided_by),
        decided_at: Set(new.decided_at.into()),
        key: Set(new.key),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    decision::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// The decision about a sitting, once there is one.
///
/// # Errors
/// Those of every query.
pub async fn find(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Option<Decision>, StoreError> {
    let row = decision::Entity::find().filter(decision::Column::AttemptId.eq(attempt)).one(db).await?;
    row.map(Decision::try_from).transpose()
}

/// An appeal against a refusal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Appeal {
    /// About which sitting.
    pub attempt_id: AttemptId,
    /// What the person says.
    pub text: String,
    /// When it was lodged.
    pub lodged_at: Moment,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

/// What was decided on an appeal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AppealDecision {
    /// About which sitting.
    pub attempt_id: AttemptId,
    /// Whether it was upheld.
    pub finding: Finding,
    /// Why, in words.
    pub reason: String,
    /// Who decided.
    pub decided_by: PersonId,
    /// When.
    pub decided_at: Moment,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

impl From<appeal::Model> for Appeal {
    fn from(row: appeal::Model) -> Self {
        Self {
            attempt_id: row.attempt_id,
            text: row.text,
            lodged_at: row.lodged_at.into(),
            record_entry_id: row.record_entry_id,
        }
    }
}

impl TryFrom<appeal_decision::Model> for AppealDecision {
    type Error = StoreError;

    fn try_from(row: appeal_decision::Model) -> Result<Self, StoreError> {
        Ok(Self {
            attempt_id: row.attempt_id,
            finding: from_word("appeal_decision.outcome", &row.outcome)?,
            reason: row.reason,
            decided_by: row.decided_by,
            decided_at: row.decided_at.into(),
            record_entry_id: row.record_entry_id,
        })
    }
}

/// Every decision, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<Decision>, StoreError> {
    let rows = decision::Entity::find().order_by_asc(decision::Column::Id).all(db).await?;
    rows.into_iter().map(Decision::try_from).collect()
}

/// Every appeal, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all_appeals(db: &impl ConnectionTrait) -> Result<Vec<Appeal>, StoreError> {
    let rows = appeal::Entity::find().order_by_asc(appeal::Column::Id).all(db).await?;
    Ok(rows.into_iter().map(Appeal::from).collect())
}

/// What was decided on every appeal, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all_appeal_decisions(db: &impl ConnectionTrait) -> Result<Vec<AppealDecision>, StoreError> {
    let rows = appeal_decision::Entity::find().order_by_asc(appeal_decision::Column::Id).all(db).await?;
    rows.into_iter().map(AppealDecision::try_from).collect()
}

/// Keeps an appeal.
///
/// # Errors
/// [`super::conflict::APPEAL`] when there is one against this decision already.
pub async fn lodge(db: &impl ConnectionTrait, new: Appeal) -> Result<(), StoreError> {
    let row = appeal::ActiveModel {
        attempt_id: Set(new.attempt_id),
        text: Set(new.text),
        lodged_at: Set(new.lodged_at.into()),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    appeal::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// The appeal about a sitting, once there is one.
///
/// # Errors
/// Those of every query.
pub async fn find_appeal(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Option<Appeal>, StoreError> {
    let row = appeal::Entity::find().filter(appeal::Column::AttemptId.eq(attempt)).one(db).await?;
    Ok(row.map(Appeal::from))
}

/// Keeps what was decided on an appeal.
///
/// # Errors
/// [`super::conflict::APPEAL_DECISION`] when it was decided already.
pub async fn insert_appeal_decision(db: &impl ConnectionTrait, new: AppealDecision) -> Result<(), StoreError> {
    let row = appeal_decision::ActiveModel {
        attempt_id: Set(new.attempt_id),
        outcome: Set(word(new.finding)),
        reason: Set(new.reason),
        decided_by: Set(new.decided_by),
        decided_at: Set(new.decided_at.into()),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    appeal_decision::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// What was decided on the appeal about a sitting, once it was.
///
/// # Errors
/// Those of every query.
pub async fn find_appeal_decision(
    db: &impl ConnectionTrait,
    attempt: AttemptId,
) -> Result<Option<AppealDecision>, StoreError> {
    let row = appeal_decision::Entity::find().filter(appeal_decision::Column::AttemptId.eq(attempt)).one(db).await?;
    row.map(AppealDecision::try_from).transpose()
}
