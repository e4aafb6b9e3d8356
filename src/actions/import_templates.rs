//! Taking scenario templates from files, for whoever runs the server: as a trainer's drafts, or published in their name.
//!
//! Takes a text byte by byte as it stands. Publishes all or, when one of them is wrong, none. Never writes over a draft
//! that the trainer is writing.

use super::publish_template::{Published, SEEDS, checked, publish_template};
use super::publish_version::newest_version;
use super::write_template::begin_template;
use super::{ActionError, Deeds};
use crate::domain::bank::BankDocument;
use crate::domain::document::Problem;
use crate::store::bank_documents::{self, DocumentKind, DocumentState};
use crate::store::{DraftId, PersonId, template_drafts};

/// What became of one template.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Taken {
    /// It is this draft of the trainer's.
    Draft(DraftId),
    /// It is published as this version.
    Version(u32),
    /// It says what the version in use says; nothing was done.
    Unchanged,
    /// The trainer is writing this draft of the template, or somebody published a version at this moment; nothing was done.
    Left,
}

/// Takes templates as drafts of a trainer.
///
/// # Errors
/// When the store does not answer.
pub async fn take_as_drafts(
    deeds: &Deeds,
    trainer: PersonId,
    files: &[BankDocument],
) -> Result<Vec<(String, Taken)>, ActionError> {
    let mut taken = Vec::new();
    for file in files {
        let of_key = bank_documents::versions(&deeds.db, DocumentKind::Template, &file.key).await?;
        let writing = template_drafts::find_writing(&deeds.db, trainer, &file.key).await?;
        let done = if in_use(of_key.first()) == Some(&file.text) {
            Taken::Unchanged
        } else if let Some(writing) = writing {
            if writing.source == file.text { Taken::Draft(writing.id) } else { Taken::Left }
        } else {
            Taken::Draft(begin_template(deeds, trainer, &file.key, Some(&file.text)).await?)
        };
        taken.push((file.key.clone(), done));
    }
    Ok(taken)
}

/// Publishes templates in a trainer's name, when all of them are right.
///
/// # Errors
/// When the store does not answer.
pub async fn take_published(
    deeds: &Deeds,
    trainer: PersonId,
    files: &[BankDocument],
) -> Result<Result<Vec<(String, Taken)>, Vec<Problem>>, ActionError> {
    let mut problems = Vec::new();
    for file in files {
        let found = checked(deeds, &file.key, &file.text, SEEDS).await?;
        problems.extend(found.into_iter().map(|problem| Problem { file: file.file.clone(), ..problem }));
    }
    if !problems.is_empty() {
        return Ok(Err(problems));
    }
    let mut taken = Vec::new();
    for file in files {
        let of_key = bank_documents::versions(&deeds.db, DocumentKind::Template, &file.key).await?;
        let base = newest_version(of_key.first());
        let done = match publish_template(deeds, trainer, &file.key, base, &file.text).await? {
            Published::Version(version) => Taken::Version(version),
            Published::Unchanged => Taken::Unchanged,
            Published::Problems(_) | Published::Overtaken(_) => Taken::Left,
        };
        taken.push((file.key.clone(), done));
    }
    Ok(Ok(taken))
}

fn in_use(newest: Option<&bank_documents::Document>) -> Option<&String> {
    newest.filter(|newest| newest.state == DocumentState::Published).map(|newest| &newest.source)
}
