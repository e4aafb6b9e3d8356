//! Publishing a scenario template: a new version, after the model has proved it on every machine it fits.
//!
//! A published version is never changed. Nothing is published that the check does not find clean.

use super::load_bank::{kind_in_store, refresh_bank, sha256};
use super::{ActionError, Deeds};
use crate::domain::bank::{Bank, DocumentKind};
use crate::domain::document::Problem;
use crate::domain::scenario::check::check;
use crate::domain::scenario::{Machine, Template};
use crate::store::bank_documents::{self, DocumentOrigin, DocumentState, NewDocument};
use crate::store::{PersonId, StoreError, conflict, record, write};

/// How often a template is tried on each machine before it is published; chosen by us: a fault in one draw of fifty is
/// found with more than 98 % certainty.
pub const SEEDS: u64 = 200;

/// What comes of it.
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

/// Publishes a template. `base` is the version that the trainer started from; 0 for a new one.
///
/// # Errors
/// When the store does not answer.
pub async fn publish_template(
    deeds: &Deeds,
    trainer: PersonId,
    key: &str,
    base: u32,
    text: &str,
) -> Result<Published, ActionError> {
    let read = deeds.bank.now();
    // Some thousand questions: a core's work for a moment, in which others must be served.
    let problems = {
        let (read, key, text) = (read.clone(), key.to_owned(), text.to_owned());
        tokio::task::spawn_blocking(move || problems_of(&read.bank, &key, &text, SEEDS)).await
    };
    let problems = problems.map_err(|_| ActionError::Busy("the check of a scenario was broken off"))?;
    if !problems.is_empty() {
        return Ok(Published::Problems(problems));
    }
    let now = deeds.clock.now();
    let kind = kind_in_store(DocumentKind::Template);
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
            author_id: Some(trainer),
            created_at: now,
        };
        let id = bank_documents::insert(tx, new).await?;
        let entry = record::NewEntry {
            at: now,
            actor_id: Some(trainer),
            deed: "template_published".to_owned(),
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

/// Everything that is wrong with a template's text, on every machine it fits.
#[must_use]
pub fn problems_of(bank: &Bank, key: &str, text: &str, seeds: u64) -> Vec<Problem> {
    let mut problems = Vec::new();
    if !well_named(key) {
        let message =
            "the name is TOPIC/NAME, of lower case letters, digits, - and _, such as fire/straw-under-the-boom";
        problems.push(Problem::new(key, 0, "name", message));
    }
    match Template::read(key, key, text, &bank.lexicon()) {
        Ok(template) => {
            let machines: Vec<Machine> = bank.machines().cloned().collect();
            problems.extend(check(key, &template, &machines, seeds));
        }
        Err(found) => problems.extend(found),
    }
    problems
}

fn well_named(key: &str) -> bool {
    let word = |word: &str| {
        (1..=60).contains(&word.len())
            && word.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-' || b == b'_')
    };
    key.split_once('/').is_some_and(|(topic, name)| word(topic) && word(name))
}
