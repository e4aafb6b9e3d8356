//! Retiring a scenario template: no new question comes from it, and what was asked from it is graded again as before.
//!
//! Never changes a published version: retiring is a version of its own, with the same text. A later version brings the
//! template back.

use super::load_bank::{read_back, refresh_bank, sha256};
use super::publish_version::{newest_version, overtaken_at_once};
use super::{ActionError, Deeds};
use crate::domain::bank::{Bank, BankDocument, DocumentKind as Kind};
use crate::domain::examination::form::assemble;
use crate::domain::units::TemperatureUnit;
use crate::store::bank_documents::{self, DocumentKind, DocumentOrigin, DocumentState, NewDocument};
use crate::store::{PersonId, record, write};

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum Retired {
    /// It is retired.
    Retired,
    /// Examinations that could not be held without it, in words; nothing was done.
    Needed(Vec<String>),
    /// It is not in use; nothing was done.
    NotInUse,
    /// Another version than the one that was looked at is in use; nothing was done.
    Overtaken(u32),
}

/// A wish to retire a template.
#[derive(Clone, Copy, Debug)]
pub struct Wish<'t> {
    /// The template.
    pub key: &'t str,
    /// The version that the trainer has looked at.
    pub base: u32,
    /// Why.
    pub reason: &'t str,
    /// Also when an examination cannot be held without it: a question that is wrong is worse than none.
    pub though_needed: bool,
}

/// Retires a template.
///
/// # Errors
/// When the store does not answer.
pub async fn retire_template(deeds: &Deeds, trainer: PersonId, wish: Wish<'_>) -> Result<Retired, ActionError> {
    if !wish.though_needed {
        let needed = needed_by(deeds, wish.key).await?;
        if !needed.is_empty() {
            return Ok(Retired::Needed(needed));
        }
    }
    let now = deeds.clock.now();
    let done = write(&deeds.db, async |tx| {
        let newest = bank_documents::versions(tx, DocumentKind::Template, wish.key).await?.into_iter().next();
        let version = newest_version(newest.as_ref());
        let Some(newest) = newest.filter(|newest| newest.state == DocumentState::Published) else {
            return Ok(Retired::NotInUse);
        };
        if version != wish.base {
            return Ok(Retired::Overtaken(version));
        }
        let new = NewDocument {
            kind: DocumentKind::Template,
            key: newest.key,
            version: newest.version + 1,
            sha256: sha256(&newest.source),
            source: newest.source,
            origin: DocumentOrigin::Editor,
            state: DocumentState::Retired,
            author_id: Some(trainer),
            created_at: now,
        };
        let detail = serde_json::json!({
            "key": wish.key, "version": new.version, "sha256": new.sha256, "reason": wish.reason,
        });
        let id = bank_documents::insert(tx, new).await?;
        let entry = record::NewEntry {
            at: now,
            actor_id: Some(trainer),
            deed: "template_retired".to_owned(),
            subject_kind: "bank_document".to_owned(),
            subject_id: Some(id.0),
            detail,
        };
        record::append(tx, entry).await?;
        Ok(Retired::Retired)
    });
    let done = match done.await {
        Ok(done) => {
            refresh_bank(deeds).await?;
            done
        }
        Err(error) => overtaken_at_once(error, wish.base).map(|_| Retired::Overtaken(wish.base + 1))?,
    };
    let late = matches!(done, Retired::NotInUse | Retired::Overtaken(_));
    Ok(if late && retired_before(deeds, trainer, wish).await? { Retired::Retired } else { done })
}

/// Whether the same trainer has retired this very version: by the same click.
async fn retired_before(deeds: &Deeds, trainer: PersonId, wish: Wish<'_>) -> Result<bool, ActionError> {
    let versions = bank_documents::versions(&deeds.db, DocumentKind::Template, wish.key).await?;
    Ok(versions.first().is_some_and(|newest| {
        newest.state == DocumentState::Retired
            && newest.author_id == Some(trainer)
            && newest_version(Some(newest)) == wish.base + 1
    }))
}

/// The examinations that a form can be made for now, and could not without the template.
async fn needed_by(deeds: &Deeds, key: &str) -> Result<Vec<String>, ActionError> {
    let documents: Vec<BankDocument> =
        bank_documents::all_latest_published(&deeds.db).await?.into_iter().map(read_back).collect();
    let looked = tokio::task::spawn_blocking({
        let key = key.to_owned();
        move || {
            let (with, _) = Bank::read(&documents);
            let is_it = |document: &BankDocument| document.kind == Kind::Template && document.key == key;
            let rest: Vec<BankDocument> = documents.into_iter().filter(|document| !is_it(document)).collect();
            let (without, _) = Bank::read(&rest);
            let made = |bank: &Bank, scheme| assemble(bank, scheme, [0; 32], TemperatureUnit::Celsius);
            let needs = |scheme| made(&without, scheme).err().filter(|_| made(&with, scheme).is_ok());
            with.schemes()
                .filter_map(|entry| needs(&entry.scheme).map(|no_form| format!("{}: {no_form}", entry.scheme.title)))
                .collect()
        }
    });
    looked.await.map_err(|_| ActionError::Busy("looking for examinations was broken off"))
}
