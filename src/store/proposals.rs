//! What the scheme's rules propose after a sitting, worked out again when what the person brings has changed.
//!
//! Never changes or removes a proposal, and the database refuses both: the last one about a sitting counts.

use super::columns::{from_json, from_word, word};
use super::{AttemptId, PersonId, ProposalId, RecordEntryId, StoreError, entity::proposal};
use crate::domain::certification::proposal::{Proposal, Proposes};
use crate::domain::certification::trigger::MachineVersion;
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// What is needed to add one.
#[derive(Clone, Debug, PartialEq)]
pub struct NewProposal {
    /// After which sitting.
    pub attempt_id: AttemptId,
    /// Whose.
    pub person_id: PersonId,
    /// The scheme that was applied.
    pub scheme_key: String,
    /// Its version.
    pub scheme_version: i32,
    /// What is proposed, and what speaks against a certificate.
    pub proposal: Proposal,
    /// The competences that a certificate would be for.
    pub competences: Vec<String>,
    /// The machines that it would be for, with the versions of their profiles.
    pub machines: Vec<MachineVersion>,
    /// When the sitting was graded.
    pub examined_at: Moment,
    /// Until when a certificate would be valid.
    pub valid_until: Moment,
    /// When it was worked out.
    pub made_at: Moment,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

/// A proposal as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptProposal {
    /// Its number; a higher one is later.
    pub id: ProposalId,
    /// What it says.
    pub entry: NewProposal,
}

impl TryFrom<proposal::Model> for KeptProposal {
    type Error = StoreError;

    fn try_from(row: proposal::Model) -> Result<Self, StoreError> {
        let proposes: Proposes = from_word("proposal.proposes", &row.proposes)?;
        let grounds = from_json("proposal.grounds", &row.grounds)?;
        Ok(Self {
            id: row.id,
            entry: NewProposal {
                attempt_id: row.attempt_id,
                person_id: row.person_id,
                scheme_key: row.scheme_key,
                scheme_version: row.scheme_version,
                proposal: Proposal { proposes, safety_miss: row.safety_miss, grounds },
                competences: from_json("proposal.competences", &row.competences)?,
                machines: from_json("proposal.machines", &row.machines)?,
                examined_at: row.examined_at.into(),
                valid_until: row.valid_until.into(),
                made_at: row.made_at.into(),
                record_entry_id: row.record_entry_id,
            },
        })
    }
}

/// Adds one.
///
/// # Errors
/// Those of every write.
pub async fn append(db: &impl ConnectionTrait, new: NewProposal) -> Result<ProposalId, StoreError> {
    let row = proposal::ActiveModel {
        attempt_id: Set(new.attempt_id),
        person_id: Set(new.person_id),
        scheme_key: Set(new.scheme_key),
        scheme_version: Set(new.scheme_version),
        proposes: Set(word(new.proposal.proposes)),
        safety_miss: Set(new.proposal.safety_miss),
        grounds: Set(json(&new.proposal.grounds)?),
        competences: Set(json(&new.competences)?),
        machines: Set(json(&new.machines)?),
        examined_at: Set(new.examined_at.into()),
        valid_until: Set(new.valid_until.into()),
        made_at: Set(new.made_at.into()),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    Ok(proposal::Entity::insert(row).exec(db).await?.last_insert_id)
}

fn json(value: &impl serde::Serialize) -> Result<String, StoreError> {
    serde_json::to_string(value).map_err(|cause| StoreError::Corrupt(cause.to_string()))
}

/// The last proposal about a sitting.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn by_attempt(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<KeptProposal, StoreError> {
    let of_attempt = proposal::Entity::find().filter(proposal::Column::AttemptId.eq(attempt));
    let last = of_attempt.order_by_desc(proposal::Column::Id).one(db).await?;
    last.ok_or(StoreError::NotFound)?.try_into()
}

/// Every proposal, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn all(db: &impl ConnectionTrait) -> Result<Vec<KeptProposal>, StoreError> {
    let rows = proposal::Entity::find().order_by_asc(proposal::Column::Id).all(db).await?;
    rows.into_iter().map(KeptProposal::try_from).collect()
}

/// Whether the person has been graded by the same scheme after a sitting.
///
/// # Errors
/// Those of every query.
pub async fn is_superseded(db: &impl ConnectionTrait, of: &NewProposal) -> Result<bool, StoreError> {
    let later = proposal::Entity::find()
        .filter(proposal::Column::PersonId.eq(of.person_id))
        .filter(proposal::Column::SchemeKey.eq(&of.scheme_key))
        .filter(proposal::Column::AttemptId.gt(of.attempt_id));
    Ok(later.one(db).await?.is_some())
}
