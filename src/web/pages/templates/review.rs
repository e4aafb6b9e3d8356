//! Reviewing what another trainer has written: the text, what it changes, a question of it; approve it or send it back.

use super::changes::{Change, changes};
use super::findings::{self, Finding, Line};
use super::preview::{Preview, Wanted, preview};
use crate::actions::publish_template::{Published, problems_of};
use crate::actions::review_template::{Reviewed, approve_template, send_template_back};
use crate::domain::visible::says_something;
use crate::store::bank_documents::{DocumentKind, versions};
use crate::store::template_drafts::{self, Draft, DraftState};
use crate::store::{DraftId, people};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

/// How often the draft is tried on each machine for this page; approving it tries more often.
const SEEDS: u64 = 40;

/// Longest remark in characters; chosen by us.
const LONGEST_REMARK: usize = 1000;

#[derive(Serialize)]
struct Review {
    page: Page,
    id: i64,
    key: String,
    author: String,
    /// Who wrote it sees it, and does not review it.
    own: bool,
    waits: bool,
    sent_at: i64,
    zone: String,
    base: i32,
    newest: i32,
    lines: Vec<Line>,
    text: String,
    findings: Vec<Finding>,
    changes: Vec<Change>,
    remark: String,
    preview: Preview,
}

/// The draft to be reviewed.
///
/// # Errors
/// [`PageError::NotFound`] when there is no such draft, or it is with its author.
pub async fn show(
    app: web::Data<App>,
    path: web::Path<DraftId>,
    request: HttpRequest,
    reader: SignedIn,
) -> Result<HttpResponse, PageError> {
    let draft = template_drafts::by_id(&app.deeds.db, *path).await?;
    if draft.state == DraftState::Published {
        return Ok(reply::see_other(&format!("/templates/{}", draft.key)));
    }
    let query = Fields::from_text(request.query_string())?;
    shown(&app, &reader, &query, draft, Vec::new()).await
}

/// Approves the draft or sends it back.
///
/// # Errors
/// [`PageError::NotFound`] when there is no such draft, or it is with its author; the program cannot do it now.
pub async fn decide(
    app: web::Data<App>,
    path: web::Path<DraftId>,
    reader: SignedIn,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let mut read = Reader::new(&fields);
    let remark = read.lines("remark", said_something);
    let Some(remark) = remark else {
        let draft = template_drafts::by_id(&app.deeds.db, *path).await?;
        return shown(&app, &reader, &fields, draft, read.into_errors()).await;
    };
    let done = match fields.typed("deed") {
        "approve" => approve_template(&app.deeds, reader.person, *path, &remark).await?,
        "send_back" => send_template_back(&app.deeds, reader.person, *path, &remark).await?,
        _ => return Err(PageError::Malformed("neither approved nor sent back")),
    };
    let draft = template_drafts::by_id(&app.deeds.db, *path).await?;
    let message = match done {
        Reviewed::Approved(Published::Version(_)) => {
            return Ok(reply::see_other(&format!("/templates/{}?done=published", draft.key)));
        }
        Reviewed::SentBack => return Ok(reply::see_other("/templates?done=sent_back")),
        Reviewed::Approved(Published::Problems(problems)) => {
            let errors = problems.iter().map(findings::said).collect();
            return shown(&app, &reader, &fields, draft, errors).await;
        }
        Reviewed::Approved(Published::Unchanged) => "This is the text in use already. Send it back.",
        Reviewed::Approved(Published::Overtaken(_)) => {
            "Not published: another version was published since this one was begun. Send it back, so that its author sees both."
        }
        Reviewed::OwnDraft => "Not done: you wrote this. Another trainer reviews it.",
        // Pressed twice: it is published already.
        Reviewed::NotInReview if draft.state == DraftState::Published => {
            let own = draft.reviewer_id == Some(reader.person) && draft.remark.as_deref() == Some(&remark);
            let done = if own { "?done=published" } else { "" };
            return Ok(reply::see_other(&format!("/templates/{}{done}", draft.key)));
        }
        Reviewed::NotInReview => "Not done: it does not wait for a review any more. Look at it again.",
    };
    let errors = vec![FieldError { field: "remark".to_owned(), message: message.to_owned() }];
    shown(&app, &reader, &fields, draft, errors).await
}

/// A remark of a reviewer, or a reason: short, and not nothing.
pub(super) fn said_something(text: &str) -> Result<String, &'static str> {
    let text = text.replace("\r\n", "\n").trim().to_owned();
    match text.chars().count() {
        _ if !says_something(&text) => Err("Write a sentence: it stays on record with your name."),
        length if length > LONGEST_REMARK => Err("Keep it under 1000 characters."),
        _ => Ok(text),
    }
}

async fn shown(
    app: &App,
    reader: &SignedIn,
    fields: &Fields,
    draft: Draft,
    errors: Vec<FieldError>,
) -> Result<HttpResponse, PageError> {
    let own = draft.author_id == reader.person;
    // Whatever is wrong with what was sent here: a draft that is being written is its author's alone.
    if draft.state == DraftState::Dropped || (draft.state == DraftState::Writing && !own) {
        return Err(PageError::NotFound);
    }
    let all = versions(&app.deeds.db, DocumentKind::Template, &draft.key).await?;
    let before = all.iter().find(|version| version.version == draft.base);
    let wanted = Wanted::read(fields, reader.temperature_unit);
    let (bank, key, text) = (app.deeds.bank.now(), draft.key.clone(), draft.source.clone());
    let version = u32::try_from(draft.base).unwrap_or_default() + 1;
    let looked = web::block(move || {
        (problems_of(&bank.bank, &key, &text, SEEDS), preview(&bank.bank, &key, &text, version, wanted))
    });
    let (problems, preview) = looked.await.map_err(|error| PageError::Fault(error.to_string()))?;
    let mut page = reader.page(&format!("Review {}", draft.key), "/templates");
    page.errors = errors;
    let wrong = !page.errors.is_empty();
    let review = Review {
        page,
        id: draft.id.0,
        author: people::by_id(&app.deeds.db, draft.author_id).await?.display_name,
        own,
        waits: draft.state == DraftState::InReview,
        sent_at: draft.changed_at.0,
        zone: reader.time_zone.clone(),
        base: draft.base,
        newest: all.first().map_or(0, |newest| newest.version),
        lines: findings::lines(&draft.source, &problems),
        findings: findings::all(&draft.source, &problems),
        changes: before.map(|before| changes(&before.source, &draft.source)).unwrap_or_default(),
        remark: fields.typed("remark").to_owned(),
        preview,
        key: draft.key,
        text: draft.source,
    };
    let template = "pages/templates/review.html";
    if wrong { reply::form_again(app, template, &review) } else { reply::page(app, template, &review) }
}
