//! Bringing the bank's files into the database, version by version, and the bank of the database into use.
//!
//! A file that changed and is whole becomes a new version. One that is broken does not: the last good version stays in
//! use, and its problems are kept for the trainers to see. What stands in the database is never changed.

use super::bank_in_use::ReadBank;
use super::{ActionError, Deeds};
use crate::domain::bank::{Bank, BankDocument, DocumentKind};
use crate::domain::document::Problem;
use crate::domain::scenario::Machine;
use crate::domain::scenario::check::check;
use crate::store::bank_documents::{self, Document, DocumentOrigin, DocumentState, NewDocument};
use crate::store::{StoreError, conflict, record, write};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::fmt::Write as _;

type Key = (DocumentKind, String);

/// Takes what is new in `files` into the database, then puts the newest bank into use. `found` are problems from
/// finding the files; `seeds` is how often each changed template is tried on each machine before it is taken.
///
/// # Errors
/// When the store does not answer.
pub async fn load_bank(
    deeds: &Deeds,
    files: Vec<BankDocument>,
    found: Vec<Problem>,
    seeds: u64,
) -> Result<(), ActionError> {
    let mut problems = found.clone();
    match take_files(deeds, files.clone(), &mut problems, seeds).await {
        // Another server took them at the same moment: they are there now, which the second look finds.
        Err(ActionError::Store(StoreError::Conflict(name))) if name == conflict::DOCUMENT_VERSION => {
            problems = found;
            take_files(deeds, files, &mut problems, seeds).await?;
        }
        taken => taken?,
    }
    use_newest(deeds, problems).await
}

/// Puts the newest bank of the database into use, if it is newer than the one in use. Another server may have changed it.
///
/// # Errors
/// When the store does not answer.
pub async fn refresh_bank(deeds: &Deeds) -> Result<(), ActionError> {
    let in_use = deeds.bank.now();
    if bank_documents::newest_id(&deeds.db).await? > in_use.newest_document {
        use_newest(deeds, in_use.problems.clone()).await?;
    }
    Ok(())
}

async fn use_newest(deeds: &Deeds, mut problems: Vec<Problem>) -> Result<(), ActionError> {
    let newest_document = bank_documents::newest_id(&deeds.db).await?;
    let documents: Vec<BankDocument> =
        bank_documents::all_latest_published(&deeds.db).await?.into_iter().map(read_back).collect();
    let (bank, broken) = Bank::read(&documents);
    problems.extend(broken);
    problems.sort();
    problems.dedup();
    deeds.bank.replace(ReadBank { bank, problems, newest_document });
    Ok(())
}

async fn take_files(
    deeds: &Deeds,
    files: Vec<BankDocument>,
    problems: &mut Vec<Problem>,
    seeds: u64,
) -> Result<(), ActionError> {
    let from_files: BTreeMap<Key, Document> =
        bank_documents::latest_from_files(&deeds.db).await?.into_iter().map(|row| (key_of(&row), row)).collect();
    let in_use: BTreeMap<Key, BankDocument> = bank_documents::all_latest_published(&deeds.db)
        .await?
        .into_iter()
        .map(|row| (key_of(&row), read_back(row)))
        .collect();
    let changed: Vec<BankDocument> = files
        .into_iter()
        .filter(|file| {
            let before = from_files.get(&(file.kind, file.key.clone()));
            before.is_none_or(|row| row.sha256 != sha256(&file.text))
        })
        .collect();
    if changed.is_empty() {
        return Ok(());
    }
    let good = whole_ones(&in_use, changed, problems, seeds);
    let now = deeds.clock.now();
    write::<_, ActionError, _>(&deeds.db, async |tx| {
        // Another server may have taken the same files since they were compared.
        let there: BTreeMap<Key, Document> =
            bank_documents::latest_from_files(tx).await?.into_iter().map(|row| (key_of(&row), row)).collect();
        let is_there = |file: &BankDocument| {
            there.get(&(file.kind, file.key.clone())).is_some_and(|row| row.sha256 == sha256(&file.text))
        };
        for file in good.into_iter().filter(|file| !is_there(file)) {
            let kind = kind_in_store(file.kind);
            let new = NewDocument {
                kind,
                version: bank_documents::next_version(tx, kind, &file.key).await?,
                sha256: sha256(&file.text),
                key: file.key.clone(),
                source: file.text,
                origin: DocumentOrigin::File,
                state: DocumentState::Published,
                author_id: None,
                created_at: now,
            };
            let (version, digest) = (new.version, new.sha256.clone());
            let id = bank_documents::insert(tx, new).await?;
            let entry = record::NewEntry {
                at: now,
                actor_id: None,
                deed: "document_taken_from_file".to_owned(),
                subject_kind: "bank_document".to_owned(),
                subject_id: Some(id.0),
                detail: serde_json::json!({
                    "kind": file.kind.id(), "key": file.key, "version": version, "sha256": digest,
                }),
            };
            record::append(tx, entry).await?;
        }
        Ok(())
    })
    .await
}

/// Those of the changed files that work, together with what is in use. Leaving one out can break another, so this goes
/// on until nothing more has to be left out.
fn whole_ones(
    in_use: &BTreeMap<Key, BankDocument>,
    mut changed: Vec<BankDocument>,
    problems: &mut Vec<Problem>,
    seeds: u64,
) -> Vec<BankDocument> {
    loop {
        let mut together = in_use.clone();
        for file in &changed {
            together.insert((file.kind, file.key.clone()), file.clone());
        }
        let documents: Vec<BankDocument> = together.into_values().collect();
        let (bank, mut broken) = Bank::read(&documents);
        let machines: Vec<Machine> = bank.machines().cloned().collect();
        for entry in bank.templates().filter(|entry| changed.iter().any(|file| file.file == entry.file)) {
            broken.extend(check(&entry.file, &entry.template, &machines, seeds));
        }
        let (bad, good): (Vec<_>, Vec<_>) =
            changed.into_iter().partition(|file| broken.iter().any(|problem| problem.file == file.file));
        problems.extend(broken.into_iter().filter(|problem| bad.iter().any(|file| file.file == problem.file)));
        if bad.is_empty() {
            return good;
        }
        changed = good;
    }
}

fn key_of(row: &Document) -> Key {
    (kind_from_store(row.kind), row.key.clone())
}

pub(super) fn read_back(row: Document) -> BankDocument {
    let kind = kind_from_store(row.kind);
    let file = match row.origin {
        DocumentOrigin::File => format!("question-bank/{}", kind.path(&row.key)),
        DocumentOrigin::Editor => format!("{} {}, version {}", kind.id(), row.key, row.version),
    };
    BankDocument { kind, key: row.key, version: u32::try_from(row.version).unwrap_or_default(), file, text: row.source }
}

pub(super) const fn kind_in_store(kind: DocumentKind) -> bank_documents::DocumentKind {
    match kind {
        DocumentKind::Competences => bank_documents::DocumentKind::Competences,
        DocumentKind::Machine => bank_documents::DocumentKind::Machine,
        DocumentKind::Module => bank_documents::DocumentKind::Module,
        DocumentKind::Lesson => bank_documents::DocumentKind::Lesson,
        DocumentKind::Scheme => bank_documents::DocumentKind::Scheme,
        DocumentKind::Template => bank_documents::DocumentKind::Template,
    }
}

const fn kind_from_store(kind: bank_documents::DocumentKind) -> DocumentKind {
    match kind {
        bank_documents::DocumentKind::Competences => DocumentKind::Competences,
        bank_documents::DocumentKind::Machine => DocumentKind::Machine,
        bank_documents::DocumentKind::Module => DocumentKind::Module,
        bank_documents::DocumentKind::Lesson => DocumentKind::Lesson,
        bank_documents::DocumentKind::Scheme => DocumentKind::Scheme,
        bank_documents::DocumentKind::Template => DocumentKind::Template,
    }
}

/// SHA-256 of a text, in hexadecimal.
pub(super) fn sha256(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().fold(String::new(), |mut digits, byte| {
        let _ = write!(digits, "{byte:02x}");
        digits
    })
}
