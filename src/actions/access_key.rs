//! Keys with which other programs ask who is qualified: making one, revoking it, recognising it.
//!
//! Never shows a key again: only its hash is kept. A key reads and changes nothing.

use super::{ActionError, Deeds, Token};
use crate::domain::people::{Permission, allows};
use crate::domain::units::Moment;
use crate::store::access_keys::{self, AccessKey, NewAccessKey};
use crate::store::record::{self, NewEntry};
use crate::store::{AccessKeyId, BranchId, PersonId, StoreError, branches, people, write};
use serde_json::json;

/// Makes a key for everything, or for one branch. The key is in the answer and nowhere else. `click` is what the form carried: the
/// same again is the same click, with the same key in the answer and nothing made.
///
/// # Errors
/// [`StoreError::NotFound`] when there is no such branch, or when the store does not answer.
pub async fn make_access_key(
    deeds: &Deeds,
    by: PersonId,
    label: &str,
    branch: Option<BranchId>,
    click: &Token,
) -> Result<Token, ActionError> {
    let now = deeds.clock.now();
    // As random as what it is made of, which nobody but the reader of one page has seen.
    let key = click.derived(&format!("access key of {}", by.0));
    write(&deeds.db, async |tx| {
        // Of two clicks the second finds the key of the first.
        people::in_turn(tx, by).await?;
        if access_keys::all(tx).await?.iter().any(|made| made.entry.key_hash == key.hash()) {
            return Ok(());
        }
        if let Some(branch) = branch {
            branches::by_id(tx, branch).await?;
        }
        let new = NewAccessKey {
            key_hash: key.hash(),
            label: label.to_owned(),
            branch_id: branch,
            made_by: by,
            made_at: now,
        };
        let id = access_keys::insert(tx, new).await?;
        // Without its label: no entry holds a name, and a label may be one.
        record::append(tx, about_key(now, by, "access_key_made", id, json!({ "branch": branch }))).await?;
        Ok::<_, ActionError>(())
    })
    .await?;
    Ok(key)
}

/// Revokes a key at once; revoking it again changes nothing.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none, or when the store does not answer.
pub async fn revoke_access_key(deeds: &Deeds, by: PersonId, id: AccessKeyId) -> Result<(), ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        if access_keys::revoke(tx, id, by, now).await? {
            record::append(tx, about_key(now, by, "access_key_revoked", id, serde_json::Value::Null)).await?;
        } else if !access_keys::all(tx).await?.iter().any(|key| key.id == id) {
            return Err(StoreError::NotFound.into());
        }
        Ok::<_, ActionError>(())
    })
    .await
}

fn about_key(at: Moment, by: PersonId, deed: &str, id: AccessKeyId, detail: serde_json::Value) -> NewEntry {
    NewEntry {
        at,
        actor_id: Some(by),
        deed: deed.to_owned(),
        subject_kind: "access_key".to_owned(),
        subject_id: Some(id.0),
        detail,
    }
}

impl Deeds {
    /// The key that a program brought; nothing when it is none, was revoked, or who made it may no longer make keys.
    ///
    /// # Errors
    /// When the store does not answer.
    pub async fn recognise_key(&self, key: &Token) -> Result<Option<AccessKey>, ActionError> {
        let found = access_keys::find_usable(&self.db, &key.hash()).await?;
        Ok(found.filter(still_vouched_for))
    }
}

/// Whether the maker of a key may still make keys.
#[must_use]
pub fn still_vouched_for(key: &AccessKey) -> bool {
    key.maker.active && allows(key.maker.role, Permission::ManageAccessKeys)
}
