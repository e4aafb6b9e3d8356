//! The drafts in the list: a trainer's own, and those that wait for this trainer's review.

use crate::store::people;
use crate::store::template_drafts::{self, Draft, DraftState};
use crate::web::App;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use serde::Serialize;

/// A draft as a row.
#[derive(Serialize)]
pub(super) struct DraftRow {
    pub(super) key: String,
    href: String,
    by: String,
    at: i64,
    state: &'static str,
}

/// What the reader is writing or has sent.
pub(super) async fn own(app: &App, reader: &SignedIn) -> Result<Vec<DraftRow>, PageError> {
    let drafts = template_drafts::open_of(&app.deeds.db, reader.person).await?;
    Ok(drafts.into_iter().map(|draft| row(draft, reader.name.clone(), "")).collect())
}

/// What others have sent.
pub(super) async fn of_others(app: &App, reader: &SignedIn) -> Result<Vec<DraftRow>, PageError> {
    let mut rows = Vec::new();
    for draft in template_drafts::in_review(&app.deeds.db).await? {
        if draft.author_id != reader.person {
            let author = people::by_id(&app.deeds.db, draft.author_id).await?.display_name;
            rows.push(row(draft, author, "/review"));
        }
    }
    Ok(rows)
}

fn row(draft: Draft, by: String, page: &str) -> DraftRow {
    let state = match (draft.state, &draft.remark) {
        (DraftState::InReview, _) => "in review",
        (_, Some(_)) => "sent back",
        _ => "draft",
    };
    DraftRow {
        href: format!("/templates/drafts/{}{page}", draft.id),
        key: draft.key,
        by,
        at: draft.changed_at.0,
        state,
    }
}
