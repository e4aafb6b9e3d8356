//! Writing a scenario template: a draft is kept while it is typed, and goes to another trainer when it is ready.
//!
//! Never publishes anything. Never writes over what another window of the same author kept, unless the author has seen
//! it, and never changes a text that is being reviewed.

use super::publish_template::{SEEDS, checked};
use super::publish_version::newest_version;
use super::{ActionError, Deeds};
use crate::domain::document::Problem;
use crate::domain::units::Moment;
use crate::store::bank_documents::{self, DocumentKind};
use crate::store::record::{self, NewEntry};
use crate::store::template_drafts::{self, Draft, DraftState};
use crate::store::{DraftId, PersonId, StoreError, people, write};
use sea_orm::ConnectionTrait;

/// What is in the author's window.
#[derive(Clone, Debug)]
pub struct Typed {
    /// The draft.
    pub id: DraftId,
    /// The revision that the window showed.
    pub revision: i32,
    /// The published version that the author has seen last; 0 for a new template.
    pub base: i32,
    /// The template's name.
    pub key: String,
    /// The text.
    pub text: String,
}

/// What comes of keeping a draft.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Kept {
    /// It is kept so.
    Kept(Draft),
    /// Another window kept this one meanwhile; nothing was changed.
    Elsewhere(Draft),
    /// It is not being written any more; nothing was changed.
    Closed(Draft),
}

/// What comes of sending a draft to review.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Sent {
    /// It waits for another trainer.
    InReview,
    /// Something is wrong with it; it was kept, and not sent.
    Problems(Draft, Vec<Problem>),
    /// It says what the version in use says; it was kept, and not sent.
    Unchanged(Draft),
    /// Somebody has published this version meanwhile; the draft was kept, and not sent.
    Overtaken(Draft, u32),
    /// It was not even kept.
    NotKept(Kept),
}

/// Begins a draft with a text, or with that of the template's newest version. Whoever writes at that template already goes
/// on with that draft.
///
/// # Errors
/// When the store does not answer.
pub async fn begin_template(
    deeds: &Deeds,
    author: PersonId,
    key: &str,
    text: Option<&str>,
) -> Result<DraftId, ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        // Of two clicks the second finds the draft of the first.
        people::in_turn(tx, author).await?;
        if let Some(open) = template_drafts::find_writing(tx, author, key).await? {
            return Ok(open.id);
        }
        let newest = bank_documents::versions(tx, DocumentKind::Template, key).await?.into_iter().next();
        let base = newest.as_ref().map_or(0, |newest| newest.version);
        let text = text.map(str::to_owned).or(newest.map(|newest| newest.source)).unwrap_or_default();
        Ok(template_drafts::insert(tx, author, key, base, &text, now).await?)
    })
    .await
}

/// Keeps what is typed.
///
/// # Errors
/// [`StoreError::NotFound`] when this person has no such draft; when the store does not answer.
pub async fn keep_template(deeds: &Deeds, author: PersonId, typed: &Typed) -> Result<Kept, ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        let mut draft = own(tx, author, typed.id).await?;
        if draft.state != DraftState::Writing {
            return Ok(Kept::Closed(draft));
        }
        let same = (&draft.source, &draft.key, draft.base) == (&typed.text, &typed.key, typed.base);
        if same {
            return Ok(Kept::Kept(draft));
        }
        if draft.revision != typed.revision {
            return Ok(Kept::Elsewhere(draft));
        }
        draft.source.clone_from(&typed.text);
        draft.key.clone_from(&typed.key);
        draft.base = typed.base;
        changed(tx, &mut draft, now).await?;
        Ok(Kept::Kept(draft))
    })
    .await
}

/// Keeps what is typed and, when the model finds nothing wrong with it, sends it to review.
///
/// # Errors
/// As [`keep_template`].
pub async fn send_template(deeds: &Deeds, author: PersonId, typed: &Typed) -> Result<Sent, ActionError> {
    let kept = match keep_template(deeds, author, typed).await? {
        Kept::Kept(draft) => draft,
        other => return Ok(Sent::NotKept(other)),
    };
    let problems = checked(deeds, &kept.key, &kept.source, SEEDS).await?;
    if !problems.is_empty() {
        return Ok(Sent::Problems(kept, problems));
    }
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        let mut draft = own(tx, author, typed.id).await?;
        if draft.revision != kept.revision {
            return Ok(Sent::NotKept(Kept::Elsewhere(draft)));
        }
        let newest = bank_documents::versions(tx, DocumentKind::Template, &draft.key).await?.into_iter().next();
        let version = newest_version(newest.as_ref());
        if i32::try_from(version) != Ok(draft.base) {
            return Ok(Sent::Overtaken(draft, version));
        }
        let in_use = newest.filter(|newest| newest.state == bank_documents::DocumentState::Published);
        if in_use.is_some_and(|newest| newest.source == draft.source) {
            return Ok(Sent::Unchanged(draft));
        }
        draft.state = DraftState::InReview;
        changed(tx, &mut draft, now).await?;
        let detail = serde_json::json!({ "key": draft.key, "base": draft.base });
        record::append(tx, about_draft(now, author, "template_sent_for_review", &draft, detail)).await?;
        Ok(Sent::InReview)
    })
    .await
}

/// Takes a draft back from review, to go on writing. Gives whether it was in review.
///
/// # Errors
/// As [`keep_template`].
pub async fn take_template_back(deeds: &Deeds, author: PersonId, id: DraftId) -> Result<bool, ActionError> {
    moved(deeds, author, id, DraftState::InReview, DraftState::Writing, "template_taken_back").await
}

/// Drops a draft; its text stays in the database. Gives whether it was being written.
///
/// # Errors
/// As [`keep_template`].
pub async fn drop_template(deeds: &Deeds, author: PersonId, id: DraftId) -> Result<bool, ActionError> {
    moved(deeds, author, id, DraftState::Writing, DraftState::Dropped, "template_dropped").await
}

async fn moved(
    deeds: &Deeds,
    author: PersonId,
    id: DraftId,
    from: DraftState,
    to: DraftState,
    deed: &str,
) -> Result<bool, ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| {
        let mut draft = own(tx, author, id).await?;
        if draft.state != from {
            return Ok(false);
        }
        draft.state = to;
        changed(tx, &mut draft, now).await?;
        let detail = serde_json::json!({ "key": draft.key });
        record::append(tx, about_draft(now, author, deed, &draft, detail)).await?;
        Ok(true)
    })
    .await
}

/// The author's own draft, to be changed.
async fn own(tx: &impl ConnectionTrait, author: PersonId, id: DraftId) -> Result<Draft, StoreError> {
    let draft = template_drafts::locked(tx, id).await?;
    if draft.author_id == author { Ok(draft) } else { Err(StoreError::NotFound) }
}

/// Keeps a change as the next revision.
pub(super) async fn changed(tx: &impl ConnectionTrait, draft: &mut Draft, now: Moment) -> Result<(), StoreError> {
    draft.revision += 1;
    draft.changed_at = now;
    template_drafts::update(tx, draft).await
}

/// An entry of the record about a draft.
pub(super) fn about_draft(at: Moment, by: PersonId, deed: &str, draft: &Draft, detail: serde_json::Value) -> NewEntry {
    NewEntry {
        at,
        actor_id: Some(by),
        deed: deed.to_owned(),
        subject_kind: "template_draft".to_owned(),
        subject_id: Some(draft.id.0),
        detail,
    }
}
