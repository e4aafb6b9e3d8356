//! Where the record's chain ends now: what a printed list or a file names, so that it can be held against the record later.

use crate::store::{StoreError, entity::record_head};
use sea_orm::{ConnectionTrait, EntityTrait};

/// The end of the chain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordHead {
    /// How many entries there are.
    pub entries: i64,
    /// The hash of the last one.
    pub hash: String,
}

/// The end of the chain. Read it after what it is to vouch for: everything read before is in the chain up to here.
///
/// # Errors
/// [`StoreError::Corrupt`] when the record has no end.
pub async fn record_head(db: &impl ConnectionTrait) -> Result<RecordHead, StoreError> {
    let head = record_head::Entity::find_by_id(1).one(db).await?;
    let head = head.ok_or_else(|| StoreError::Corrupt("record_head has no row".to_owned()))?;
    Ok(RecordHead { entries: head.entries, hash: head.hash })
}
