//! The one way in which a trainer's text becomes a new version of a document of the bank.
//!
//! Never changes a published version, never publishes over one that its author has not seen, and never judges the text:
//! whoever calls this has checked it.

use super::load_bank::{kind_in_store, refresh_bank, sha256};
use super::{ActionError, Deeds};
use crate::domain::bank::DocumentKind;
use crate::domain::document::Problem;
use crate::store::bank_documents::{self, DocumentOrigin, DocumentState, NewDocument};
use crate::store::{PersonId, StoreError, conflict, record, write};

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

/// Publishes it and puts the bank with it into use.
pub(super) async fn publish_version(
    deeds: &Deeds,
    author: PersonId,
    checked: Checked<'_>,
) -> Result<Published, ActionError> {
    let Checked { key, base, text, .. } = checked;
    let now = deeds.clock.now();
    let kind = kind_in_store(checked.kind);
    let published = write(&deeds.db, async |tx| {
        let newest = bank_documents::versions(tx, kind, key).await?.into_iter().next();
        let newest_version = newest.as_ref().map_or(0, |newest| u32::try_from(newest.version).unwrap_or_default());
        if newest_version != base {
            return Ok(Published::Overtaken(newest_version));
        }
        if newest.is_some_and(|newest| newest.source == text) {
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
            author_id: Some(author),
            created_at: now,
        };
        let id = bank_documents::insert(tx, new).await?;
        let entry = record::NewEntry {
            at: now,
            actor_id: Some(author),
            deed: checked.deed.to_owned(),
            subject_kind: "bank_document".to_owned(),
            subject_id: Some(id.0),
            detail: serde_json::json!({ "key": key, "version": version }),
        };
        record::append(tx, entry).await?;
        Ok(Published::Version(u32::try_from(version).unwrap_or_default()))
    });
    match published.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::DOCUMENT_VERSION => {
            Ok(Published::Overtaken(base + 1))
        }
        Ok(done) => {
            refresh_bank(deeds).await?;
            Ok(done)
        }
        Err(error) => Err(error),
    }
}
