//! Writing a template: looked at and checked before anything is published; nothing that was typed is lost.

use super::preview::{Preview, Wanted, preview};
use crate::actions::publish_template::{Published, problems_of, publish_template};
use crate::domain::document::Problem;
use crate::store::bank_documents::{DocumentKind, by_version, versions};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/templates/edit.html";

/// How often a draft is tried on each machine while it is being written; publishing tries more often.
const SEEDS: u64 = 40;

/// What a new template begins with: every section, each with something to replace.
const BLANK: &str = "title: \ncompetence: \nlevel: 1\nkind: choose one\nmachines: all\nshow: soot, lamps\n\n[draw]\nload0 = inside parked keep 3 %\n\n[situation]\nsoot = load0\n\n[story]\n\n\n[question]\nWhat do you do first?\n\n[answer]\nask: route\n";

/// What somebody else has published meanwhile.
#[derive(Serialize)]
struct Overtaken {
    version: u32,
    text: String,
}

/// What is being written.
#[derive(Clone, Debug, Default)]
struct Draft {
    key: String,
    base: u32,
    text: String,
}

#[derive(Serialize)]
struct Edit {
    page: Page,
    key: String,
    base: u32,
    text: String,
    rows: usize,
    overtaken: Option<Overtaken>,
    preview: Option<Preview>,
}

impl Edit {
    fn new(page: Page, draft: Draft) -> Self {
        let rows = draft.text.lines().count().clamp(18, 40) + 2;
        Self { page, key: draft.key, base: draft.base, text: draft.text, rows, overtaken: None, preview: None }
    }
}

fn page(reader: &SignedIn, draft: &Draft) -> Page {
    let title = if draft.base == 0 { "New scenario template".to_owned() } else { format!("Change {}", draft.key) };
    reader.page(&title, "/templates")
}

/// The form of a new template.
///
/// # Errors
/// The page cannot be drawn.
pub async fn fresh(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let draft = Draft { text: BLANK.to_owned(), ..Draft::default() };
    reply::page(&app, TEMPLATE, &Edit::new(page(&reader, &draft), draft))
}

/// The form with a template's newest version.
///
/// # Errors
/// [`PageError::NotFound`] when there is no such template.
pub async fn again(
    app: web::Data<App>,
    path: web::Path<(String, String)>,
    reader: SignedIn,
) -> Result<HttpResponse, PageError> {
    let key = format!("{}/{}", path.0, path.1);
    let all = versions(&app.deeds.db, DocumentKind::Template, &key).await?;
    let newest = all.into_iter().next().ok_or(PageError::NotFound)?;
    let draft = Draft { key, base: u32::try_from(newest.version).unwrap_or_default(), text: newest.source };
    reply::page(&app, TEMPLATE, &Edit::new(page(&reader, &draft), draft))
}

/// Checks what is typed and shows a question of it; publishes nothing.
///
/// # Errors
/// The program cannot do it now.
pub async fn check(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let (draft, mut errors) = typed(&fields);
    if errors.is_empty() {
        let (bank, draft) = (app.deeds.bank.now(), draft.clone());
        let found = web::block(move || problems_of(&bank.bank, &draft.key, &draft.text, SEEDS)).await;
        errors = found.map_err(fault)?.iter().map(said).collect();
    }
    shown(&app, &reader, &fields, draft, errors, None, Some("Checked: no problem was found. Nothing is published yet."))
        .await
}

/// Publishes what is typed as a new version.
///
/// # Errors
/// The program cannot do it now.
pub async fn publish(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let (draft, errors) = typed(&fields);
    if !errors.is_empty() {
        return shown(&app, &reader, &fields, draft, errors, None, None).await;
    }
    match publish_template(&app.deeds, reader.person, &draft.key, draft.base, &draft.text).await? {
        Published::Version(_) => Ok(reply::see_other(&format!("/templates/{}?done=published", draft.key))),
        Published::Problems(problems) => {
            let errors = problems.iter().map(said).collect();
            shown(&app, &reader, &fields, draft, errors, None, None).await
        }
        Published::Unchanged => {
            let notice = format!("This is the text of version {} as it is. Nothing was published.", draft.base);
            shown(&app, &reader, &fields, draft, Vec::new(), None, Some(&notice)).await
        }
        Published::Overtaken(version) => {
            let number = i32::try_from(version).unwrap_or_default();
            let theirs = by_version(&app.deeds.db, DocumentKind::Template, &draft.key, number).await?;
            let message = if draft.base == 0 {
                "There is a scenario of this name already: its text stands below yours. Choose another name, or publish again to follow it with yours."
            } else {
                "Somebody has published a version since you began: its text stands below yours. Take over what you want from it, then publish again."
            };
            let errors = vec![FieldError { field: "text".to_owned(), message: message.to_owned() }];
            let overtaken = Overtaken { version, text: theirs.source };
            let draft = Draft { base: version, ..draft };
            shown(&app, &reader, &fields, draft, errors, Some(overtaken), None).await
        }
    }
}

fn typed(fields: &Fields) -> (Draft, Vec<FieldError>) {
    let mut read = Reader::new(fields);
    // Browsers end lines with CR LF; the bank's files do not.
    let whole = |text: &str| Ok::<_, String>(text.replace("\r\n", "\n"));
    let text = read.lines("text", whole);
    let key = read.line("key", |key| Ok::<_, String>(key.trim().to_owned()));
    let draft = Draft {
        key: key.unwrap_or_default(),
        base: fields.typed("base").parse().unwrap_or_default(),
        text: text.unwrap_or_else(|| fields.typed("text").replace("\r\n", "\n")),
    };
    (draft, read.into_errors())
}

/// A problem beside its field.
fn said(problem: &Problem) -> FieldError {
    if (problem.line, problem.field.as_str()) == (0, "name") {
        return FieldError { field: "key".to_owned(), message: capital(&problem.message) };
    }
    let place = if problem.line > 0 { format!("Line {}, ", problem.line) } else { String::new() };
    let end = if problem.message.ends_with(['.', '?']) { "" } else { "." };
    let message = capital(&format!("{place}{}: {}{end}", problem.field, problem.message));
    FieldError { field: "text".to_owned(), message }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn fault(error: actix_web::error::BlockingError) -> PageError {
    PageError::Fault(error.to_string())
}

/// The form with what was typed, what is wrong, and a question of the draft.
async fn shown(
    app: &App,
    reader: &SignedIn,
    fields: &Fields,
    draft: Draft,
    errors: Vec<FieldError>,
    overtaken: Option<Overtaken>,
    notice: Option<&str>,
) -> Result<HttpResponse, PageError> {
    let wrong = !errors.is_empty();
    let mut page = page(reader, &draft);
    page.errors = errors;
    page.notice = notice.filter(|_| !wrong).map(str::to_owned);
    let wanted = Wanted::read(fields, reader.temperature_unit);
    let (bank, of) = (app.deeds.bank.now(), draft.clone());
    let preview = web::block(move || preview(&bank.bank, &of.key, &of.text, of.base + 1, wanted)).await;
    let mut edit = Edit::new(page, draft);
    edit.preview = Some(preview.map_err(fault)?);
    edit.overtaken = overtaken;
    if wrong { reply::form_again(app, TEMPLATE, &edit) } else { reply::page(app, TEMPLATE, &edit) }
}
