//! Writing a template: the text on one side, a question of it on the other, every finding at its line. Each press keeps
//! what is typed before it does anything else.
//!
//! Never publishes: another trainer does, after a review.

use super::findings::{self, Finding, Line};
use super::preview::{Preview, Wanted, preview};
use crate::actions::publish_template::problems_of;
use crate::actions::write_template::{
    Kept, Sent, Typed, drop_template, keep_template, send_template, take_template_back,
};
use crate::domain::document::Problem;
use crate::store::bank_documents::{DocumentKind, by_version};
use crate::store::template_drafts::{self, Draft, DraftState};
use crate::store::{DraftId, people};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

/// How often a draft is tried on each machine while it is being written; sending it tries more often.
const SEEDS: u64 = 40;

/// A text that somebody else kept or published while this one was written.
#[derive(Serialize)]
struct Theirs {
    heading: String,
    what: &'static str,
    text: String,
    /// Whether it is this draft as another window kept it, and the author can go on with it.
    kept: bool,
}

#[derive(Serialize)]
struct Remark {
    by: String,
    said: String,
}

#[derive(Serialize)]
struct Edit {
    page: Page,
    id: i64,
    key: String,
    new: bool,
    base: i32,
    revision: i32,
    text: String,
    rows: usize,
    lines: Vec<Line>,
    findings: Vec<Finding>,
    kept_at: i64,
    zone: String,
    in_review: bool,
    remark: Option<Remark>,
    theirs: Option<Theirs>,
    preview: Preview,
}

/// What the page says beside the draft itself.
#[derive(Default)]
struct Said {
    errors: Vec<FieldError>,
    notice: Option<&'static str>,
    theirs: Option<Theirs>,
    /// Problems that were found already; otherwise the text is checked for the page.
    problems: Option<Vec<Problem>>,
}

/// The draft as it is kept. Another trainer comes to its review.
///
/// # Errors
/// [`PageError::NotFound`] when there is no such draft for this person.
pub async fn show(
    app: web::Data<App>,
    path: web::Path<DraftId>,
    request: HttpRequest,
    reader: SignedIn,
) -> Result<HttpResponse, PageError> {
    let draft = template_drafts::by_id(&app.deeds.db, *path).await?;
    match draft.state {
        DraftState::Published => return Ok(reply::see_other(&format!("/templates/{}", draft.key))),
        DraftState::InReview if draft.author_id != reader.person => {
            return Ok(reply::see_other(&format!("/templates/drafts/{}/review", draft.id)));
        }
        _ if draft.author_id != reader.person => return Err(PageError::NotFound),
        _ => {}
    }
    let query = Fields::from_text(request.query_string())?;
    let notice = match query.typed("done") {
        "kept" => Some("Kept. Nothing is published yet."),
        "sent" => Some("Sent to review. Another trainer reads it and publishes it or sends it back."),
        _ => None,
    };
    shown(&app, &reader, &query, draft, Said { notice, ..Said::default() }).await
}

/// Keeps what is typed, and does what was pressed.
///
/// # Errors
/// [`PageError::NotFound`] when this person has no such draft; the program cannot do it now.
pub async fn submit(
    app: web::Data<App>,
    path: web::Path<DraftId>,
    reader: SignedIn,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let here = format!("/templates/drafts/{}", *path);
    let deed = fields.typed("deed");
    if deed == "take_back" {
        take_template_back(&app.deeds, reader.person, *path).await?;
        return Ok(reply::see_other(&here));
    }
    let (typed, errors) = typed(*path, &fields);
    if !errors.is_empty() {
        let draft = template_drafts::by_id(&app.deeds.db, *path).await?;
        if draft.author_id != reader.person {
            return Err(PageError::NotFound);
        }
        let draft = Draft { source: typed.text, key: typed.key, ..draft };
        return shown(&app, &reader, &fields, draft, Said { errors, ..Said::default() }).await;
    }
    if deed == "send" {
        let sent = send_template(&app.deeds, reader.person, &typed).await?;
        return after_sending(&app, &reader, &fields, typed, sent).await;
    }
    let draft = match keep_template(&app.deeds, reader.person, &typed).await? {
        Kept::Kept(draft) => draft,
        other => return not_kept(&app, &reader, &fields, typed, other).await,
    };
    match deed {
        "keep" => Ok(reply::see_other(&format!("{here}?done=kept"))),
        "drop" => {
            drop_template(&app.deeds, reader.person, *path).await?;
            Ok(reply::see_other("/templates?done=dropped"))
        }
        _ => shown(&app, &reader, &fields, draft, Said::default()).await,
    }
}

async fn after_sending(
    app: &App,
    reader: &SignedIn,
    fields: &Fields,
    typed: Typed,
    sent: Sent,
) -> Result<HttpResponse, PageError> {
    match sent {
        Sent::InReview => Ok(reply::see_other(&format!("/templates/drafts/{}?done=sent", typed.id))),
        // Pressed twice: it is sent already.
        Sent::NotKept(Kept::Closed(draft) | Kept::Elsewhere(draft))
            if draft.state == DraftState::InReview && draft.source == typed.text =>
        {
            Ok(reply::see_other(&format!("/templates/drafts/{}?done=sent", typed.id)))
        }
        Sent::NotKept(other) => not_kept(app, reader, fields, typed, other).await,
        Sent::Problems(draft, problems) => {
            let errors = problems.iter().map(findings::said).collect();
            shown(app, reader, fields, draft, Said { errors, problems: Some(problems), ..Said::default() }).await
        }
        Sent::Unchanged(draft) => {
            let notice = Some("This is the text in use as it is. It was not sent.");
            shown(app, reader, fields, draft, Said { notice, ..Said::default() }).await
        }
        Sent::Overtaken(draft, version) => {
            let number = i32::try_from(version).unwrap_or_default();
            let newest = by_version(&app.deeds.db, DocumentKind::Template, &draft.key, number).await?;
            let theirs = Theirs {
                heading: format!("Version {version}, published meanwhile"),
                what: "Take over what you want from it, then send yours again. It follows that version.",
                text: newest.source,
                kept: false,
            };
            let message = "Not sent: somebody has published a version since you began. Both texts are on this page.";
            let errors = vec![FieldError { field: "text".to_owned(), message: message.to_owned() }];
            let said = Said { errors, theirs: Some(theirs), ..Said::default() };
            shown(app, reader, fields, Draft { base: number, ..draft }, said).await
        }
    }
}

/// Shows what is typed beside what is kept: the author chooses.
async fn not_kept(
    app: &App,
    reader: &SignedIn,
    fields: &Fields,
    typed: Typed,
    kept: Kept,
) -> Result<HttpResponse, PageError> {
    let (Kept::Kept(draft) | Kept::Elsewhere(draft) | Kept::Closed(draft)) = kept;
    let (message, what) = if draft.state == DraftState::Writing {
        (
            "Not kept yet: another window kept this draft meanwhile. Both texts are on this page. Choose one.",
            "Press Keep for your text above, or go on with this one.",
        )
    } else {
        (
            "Not kept: this draft is no longer being written. Your text is on this page.",
            "Take it back from review to go on, or copy your text into a new draft.",
        )
    };
    let theirs = Theirs { heading: "As it is kept".to_owned(), what, text: draft.source.clone(), kept: true };
    let errors = vec![FieldError { field: "text".to_owned(), message: message.to_owned() }];
    let mine = Draft { source: typed.text, key: typed.key, ..draft };
    shown(app, reader, fields, mine, Said { errors, theirs: Some(theirs), ..Said::default() }).await
}

fn typed(id: DraftId, fields: &Fields) -> (Typed, Vec<FieldError>) {
    let mut read = Reader::new(fields);
    // Browsers end lines with CR LF; the bank's files do not.
    let plain = |text: &str| text.replace("\r\n", "\n");
    let text = read.lines("text", |text| Ok::<_, String>(plain(text)));
    let key = read.line("key", |key| Ok::<_, String>(key.trim().to_owned()));
    let typed = Typed {
        id,
        revision: fields.typed("revision").parse().unwrap_or_default(),
        base: fields.typed("base").parse().unwrap_or_default(),
        key: key.unwrap_or_default(),
        text: text.unwrap_or_else(|| plain(fields.typed("text"))),
    };
    (typed, read.into_errors())
}

/// The page with the draft, what is found in it, and a question of it.
async fn shown(
    app: &App,
    reader: &SignedIn,
    fields: &Fields,
    draft: Draft,
    said: Said,
) -> Result<HttpResponse, PageError> {
    let mut wanted = Wanted::read(fields, reader.temperature_unit);
    if fields.typed("deed") == "another" {
        wanted.seed = wanted.seed.wrapping_add(1);
    }
    let (bank, key, text) = (app.deeds.bank.now(), draft.key.clone(), draft.source.clone());
    let version = u32::try_from(draft.base).unwrap_or_default() + 1;
    let found = said.problems;
    let looked = web::block(move || {
        let problems = found.unwrap_or_else(|| problems_of(&bank.bank, &key, &text, SEEDS));
        (problems, preview(&bank.bank, &key, &text, version, wanted))
    });
    let (problems, preview) = looked.await.map_err(|error| PageError::Fault(error.to_string()))?;
    let title = if draft.base == 0 { "New scenario template".to_owned() } else { format!("Change {}", draft.key) };
    let mut page = reader.page(&title, "/templates");
    page.notice = said.notice.map(str::to_owned);
    page.errors = said.errors;
    let wrong = !page.errors.is_empty();
    let edit = Edit {
        page,
        id: draft.id.0,
        new: draft.base == 0,
        base: draft.base,
        revision: draft.revision,
        rows: draft.source.split('\n').count() + 1,
        lines: findings::lines(&draft.source, &problems),
        findings: findings::all(&draft.source, &problems),
        kept_at: draft.changed_at.0,
        zone: reader.time_zone.clone(),
        in_review: draft.state != DraftState::Writing,
        remark: remark(app, &draft).await?,
        theirs: said.theirs,
        preview,
        key: draft.key,
        text: draft.source,
    };
    let template = "pages/templates/edit.html";
    if wrong { reply::form_again(app, template, &edit) } else { reply::page(app, template, &edit) }
}

async fn remark(app: &App, draft: &Draft) -> Result<Option<Remark>, PageError> {
    let (Some(by), Some(said)) = (draft.reviewer_id, draft.remark.clone()) else { return Ok(None) };
    Ok(Some(Remark { by: people::by_id(&app.deeds.db, by).await?.display_name, said }))
}
