//! Reviewing a draft of a scenario template: another trainer publishes it or sends it back, each with a remark.
//!
//! Nobody approves what they wrote themselves, and nothing is published that the model finds wrong on this day's bank.

use super::load_bank::refresh_bank;
use super::publish_template::{SEEDS, checked};
use super::publish_version::{By, Checked, Published, insert_version, overtaken_at_once};
use super::write_template::{about_draft, changed};
use super::{ActionError, Deeds};
use crate::domain::bank::DocumentKind;
use crate::store::record;
use crate::store::template_drafts::{self, DraftState};
use crate::store::{DraftId, PersonId, write};

/// What comes of a review.
#[derive(Debug, PartialEq, Eq)]
pub enum Reviewed {
    /// The draft was approved: whether it is published.
    Approved(Published),
    /// It is with its author again, now or by the same click before.
    SentBack,
    /// Who wrote it does not review it; nothing was done.
    OwnDraft,
    /// It does not wait for a review any more; nothing was done.
    NotInReview,
}

/// Approves a draft: it is published as its author's, on record as this reviewer's deed.
///
/// # Errors
/// [`crate::store::StoreError::NotFound`] when there is no such draft; when the store does not answer.
pub async fn approve_template(
    deeds: &Deeds,
    reviewer: PersonId,
    id: DraftId,
    remark: &str,
) -> Result<Reviewed, ActionError> {
    let before = template_drafts::by_id(&deeds.db, id).await?;
    if before.author_id == reviewer {
        return Ok(Reviewed::OwnDraft);
    }
    let problems = checked(deeds, &before.key, &before.source, SEEDS).await?;
    if !problems.is_empty() {
        return Ok(Reviewed::Approved(Published::Problems(problems)));
    }
    let now = deeds.clock.now();
    let base = u32::try_from(before.base).unwrap_or_default();
    let done = write(&deeds.db, async |tx| {
        let mut draft = template_drafts::locked(tx, id).await?;
        if draft.state != DraftState::InReview || draft.revision != before.revision {
            return Ok(Reviewed::NotInReview);
        }
        let by = By {
            author: draft.author_id,
            actor: reviewer,
            detail: serde_json::json!({ "draft": id.0, "author": draft.author_id.0, "remark": remark }),
        };
        let text = Checked {
            kind: DocumentKind::Template,
            key: &draft.key,
            base,
            text: &draft.source,
            deed: "template_approved",
        };
        let published = insert_version(tx, now, &by, &text).await?;
        if matches!(published, Published::Version(_)) {
            draft.state = DraftState::Published;
            draft.remark = Some(remark.to_owned());
            draft.reviewer_id = Some(reviewer);
            changed(tx, &mut draft, now).await?;
        }
        Ok(Reviewed::Approved(published))
    });
    let done = match done.await {
        Err(error) => Reviewed::Approved(overtaken_at_once(error, base)?),
        Ok(done) => done,
    };
    refresh_bank(deeds).await?;
    Ok(done)
}

/// Sends a draft back to its author.
///
/// # Errors
/// As [`approve_template`].
pub async fn send_template_back(
    deeds: &Deeds,
    reviewer: PersonId,
    id: DraftId,
    remark: &str,
) -> Result<Reviewed, ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        let mut draft = template_drafts::locked(tx, id).await?;
        if draft.author_id == reviewer {
            return Ok(Reviewed::OwnDraft);
        }
        if draft.state != DraftState::InReview {
            // Pressed twice: it is with its author since the first.
            let same_click = draft.state == DraftState::Writing
                && draft.reviewer_id == Some(reviewer)
                && draft.remark.as_deref() == Some(remark);
            return Ok(if same_click { Reviewed::SentBack } else { Reviewed::NotInReview });
        }
        draft.state = DraftState::Writing;
        draft.remark = Some(remark.to_owned());
        draft.reviewer_id = Some(reviewer);
        changed(tx, &mut draft, now).await?;
        let detail = serde_json::json!({ "key": draft.key, "remark": remark });
        record::append(tx, about_draft(now, reviewer, "template_sent_back", &draft, detail)).await?;
        Ok(Reviewed::SentBack)
    })
    .await
}
