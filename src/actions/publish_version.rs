//! The one way in which a trainer's text becomes a new version of a document of the bank.
//!
//! Never changes a published version, never publishes over one that its author has not seen, and never judges the text:
//! whoever calls this has checked it.

use super::load_bank::{kind_in_store, refresh_bank, sha256};
use super::{ActionError, Deeds};
use crate::domain::bank::DocumentKind;
use crate::domain::document::Problem;
use crate::domain::units::Moment;
use crate::store::bank_documents::{self, Document, DocumentOrigin, DocumentState, NewDocument};
use crate::store::{PersonId, StoreError, conflict, record, write};
use sea_orm::ConnectionTrait;

/// What comes of publishing.
#[derive(Debug, PartialEq, Eq)]
pub enum Published {
    /// This version is in use now.
    Version(u32),
    /// It has the same text as the version in use; nothing was published.
    Unchanged,
    /// Something is wrong with it; nothing was published.
    Problems(Vec<Problem>),
    /// Somebody else has published this version meanwhile; nothing was published.
    Overtaken(u32),
}

/// A text that has been checked.
pub(super) struct Checked<'t> {
    pub(super) kind: DocumentKind,
    pub(super) key: &'t str,
    /// The version that the author started from; 0 for a new document.
    pub(super) base: u32,
    pub(super) text: &'t str,
    /// What the record calls it.
    pub(super) deed: &'static str,
}

/// Whose text it is, and who publishes it.
pub(super) struct By {
    pub(super) author: PersonId,
    pub(super) actor: PersonId,
    /// What else must be known years later: an object.
    pub(super) detail: serde_json::Value,
}

/// Publishes it and puts the bank with it into use.
pub(super) async fn publish_version(
    deeds: &Deeds,
    author: PersonId,
    checked: Checked<'_>,
) -> Result<Published, ActionError> {
    let now = deeds.clock.now();
    let by = By { author, actor: author, detail: serde_json::json!({}) };
    let published = write(&deeds.db, async |tx| insert_version(tx, now, &by, &checked).await).await;
    let done = match published {
        Err(error) => overtaken_at_once(error, checked.base)?,
        Ok(done) => done,
    };
    refresh_bank(deeds).await?;
    Ok(done)
}

/// Publishes it, in the deed's own transaction; the bank is the caller's to refresh afterwards.
pub(super) async fn insert_version(
    tx: &impl ConnectionTrait,
    now: Moment,
    by: &By,
    checked: &Checked<'_>,
) -> Result<Published, ActionError> {
    let Checked { key, base, text, .. } = *checked;
    let kind = kind_in_store(checked.kind);
    let newest = bank_documents::versions(tx, kind, key).await?.into_iter().next();
    let version = newest_version(newest.as_ref());
    if version != base {
        return Ok(Published::Overtaken(version));
    }
    if newest.is_some_and(|newest| newest.source == text && newest.state == DocumentState::Published) {
        return Ok(Published::Unchanged);
    }
    let version = bank_documents::next_version(tx, kind, key).await?;
    let new = NewDocument {
        kind,
        key: key.to_owned(),
        version,
        source: text.to_owned(),
        sha256: sha256(text),
        origin: DocumentOrigin::Editor,
        state: DocumentState::Published,
        author_id: Some(by.author),
        created_at: now,
    };
    let id = bank_documents::insert(tx, new).await?;
    let mut detail = serde_json::json!({ "key": key, "version": version, "sha256": sha256(text) });
    if let (Some(detail), Some(more)) = (detail.as_object_mut(), by.detail.as_object()) {
        detail.extend(more.clone());
    }
    let entry = record::NewEntry {
        at: now,
        actor_id: Some(by.actor),
        deed: checked.deed.to_owned(),
        subject_kind: "bank_document".to_owned(),
        subject_id: Some(id.0),
        detail,
    };
    record::append(tx, entry).await?;
    Ok(Published::Version(u32::try_from(version).unwrap_or_default()))
}

/// The number of the newest version; 0 when there is none.
pub(super) fn newest_version(newest: Option<&Document>) -> u32 {
    newest.map_or(0, |newest| u32::try_from(newest.version).unwrap_or_default())
}

/// Somebody published the same version in the same moment: that is an outcome. Any other error stays one.
pub(super) fn overtaken_at_once(error: ActionError, base: u32) -> Result<Published, ActionError> {
    match error {
        ActionError::Store(StoreError::Conflict(which)) if which == conflict::DOCUMENT_VERSION => {
            Ok(Published::Overtaken(base + 1))
        }
        error => Err(error),
    }
}
