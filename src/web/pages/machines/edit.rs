//! Writing a machine profile: section by section, with what is wrong beside each; what it changes is shown before it is
//! published, and nothing that was typed is lost.

use super::change::Shown;
use super::sections::{self, Part, cut, join};
use crate::actions::publish_machine::{self, LookedAhead, Pressed, Published, look_ahead, publish_machine as press};
use crate::domain::document::Problem;
use crate::store::bank_documents::{Document, DocumentKind, versions};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/machines/edit.html";

/// The most sections that a form sends; chosen by us, far above any profile's.
const MOST_PARTS: usize = 200;

const OVERTAKEN: &str = "Somebody has published a version since you began: where it changes something, its text stands below \
                         yours. Take over what you want from it, then check again.";
const TAKEN: &str = "There is a machine of this id already. Give yours another id.";
const CHECKED: &str = "Checked: no problem was found. Nothing is published yet.";
const NOT_SEEN: &str = "The text or the question bank has changed since you looked. This is what it does now. Nothing is \
                        published yet.";

/// What is being written.
#[derive(Clone, Debug, Default)]
struct Draft {
    /// Empty for a new machine.
    id: String,
    base: u32,
    text: String,
}

impl Draft {
    fn of(&self) -> publish_machine::Draft<'_> {
        let key = (self.base > 0).then_some(self.id.as_str());
        publish_machine::Draft { key, base: self.base, text: &self.text }
    }
}

/// A section in its field.
#[derive(Serialize)]
struct PartShown {
    field: String,
    label: String,
    text: String,
    rows: usize,
    /// What somebody else has published here meanwhile, where it differs.
    theirs: Option<String>,
}

/// A section that only the other's version has, and that its author has added.
#[derive(Serialize)]
struct Theirs {
    label: String,
    text: String,
}

#[derive(Serialize)]
struct Edit {
    page: Page,
    id: String,
    base: u32,
    parts: Vec<PartShown>,
    overtaken: Option<u32>,
    only_theirs: Vec<Theirs>,
    change: Option<Shown>,
}

/// What is shown with a draft.
#[derive(Default)]
struct With {
    errors: Vec<FieldError>,
    notice: Option<String>,
    change: Option<Shown>,
    overtaken: Option<Overtaken>,
}

/// What somebody else has published meanwhile, and what both began from.
struct Overtaken {
    version: u32,
    theirs: Vec<Part>,
    began_from: Vec<Part>,
}

impl Overtaken {
    /// Their text of a section, where they have changed it and it is not what stands here.
    fn beside(&self, mine: &Part) -> Option<String> {
        let [theirs, before] = [&self.theirs, &self.began_from].map(|parts| sections::named(parts, &mine.name));
        (theirs != before && theirs.trim() != mine.text.trim()).then_some(theirs)
    }
}

/// The form of a new machine: a copy of another one, to be changed.
///
/// # Errors
/// The page cannot be drawn.
pub async fn fresh(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let read = app.deeds.bank.now();
    let first = || read.bank.machines().next().map(|machine| machine.profile.id.clone());
    let from = Some(query.typed("from").to_owned()).filter(|from| !from.is_empty()).or_else(first);
    let text = match from {
        Some(from) => newest(&app, &from).await?.map(|document| document.source),
        None => None,
    };
    let draft = Draft { text: text.unwrap_or_default(), ..Draft::default() };
    shown(&app, &reader, draft, With::default())
}

/// The form with a machine's newest version.
///
/// # Errors
/// [`PageError::NotFound`] when there is no such machine.
pub async fn again(app: web::Data<App>, path: web::Path<String>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let id = path.into_inner();
    let newest = newest(&app, &id).await?.ok_or(PageError::NotFound)?;
    let draft = Draft { id, base: number(&newest), text: newest.source };
    shown(&app, &reader, draft, With::default())
}

/// Checks what is typed and shows what it would change; publishes nothing.
///
/// # Errors
/// The program cannot do it now.
pub async fn check(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let (draft, errors) = typed(&fields);
    if !errors.is_empty() {
        return shown(&app, &reader, draft, With { errors, ..With::default() });
    }
    if draft.base > 0 && newest(&app, &draft.id).await?.is_none_or(|newest| number(&newest) != draft.base) {
        return overtaken(&app, &reader, draft).await;
    }
    match look_ahead(&app.deeds, draft.of(), reader.temperature_unit).await? {
        LookedAhead::Problems(problems) => with_problems(&app, &reader, draft, &problems),
        LookedAhead::Change(change) => with_change(&app, &reader, draft, change, CHECKED).await,
    }
}

/// Publishes what is typed as a new version, if what it changes has been shown.
///
/// # Errors
/// The program cannot do it now.
pub async fn publish(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let (draft, errors) = typed(&fields);
    if !errors.is_empty() {
        return shown(&app, &reader, draft, With { errors, ..With::default() });
    }
    let unit = reader.temperature_unit;
    match press(&app.deeds, reader.person, draft.of(), fields.typed("seen"), unit).await? {
        Pressed::Done { machine, published: Published::Version(_) } => {
            Ok(reply::see_other(&format!("/machines/{machine}?done=published")))
        }
        Pressed::Done { published: Published::Unchanged, .. } => {
            let notice = format!("This is the text of version {} as it is. Nothing was published.", draft.base);
            shown(&app, &reader, draft, With { notice: Some(notice), ..With::default() })
        }
        Pressed::Done { published: Published::Overtaken(_), .. } => overtaken(&app, &reader, draft).await,
        Pressed::Done { published: Published::Problems(problems), .. } | Pressed::Problems(problems) => {
            with_problems(&app, &reader, draft, &problems)
        }
        Pressed::NotSeen(change) => with_change(&app, &reader, draft, change, NOT_SEEN).await,
    }
}

async fn newest(app: &App, id: &str) -> Result<Option<Document>, PageError> {
    Ok(versions(&app.deeds.db, DocumentKind::Machine, id).await?.into_iter().next())
}

fn number(document: &Document) -> u32 {
    u32::try_from(document.version).unwrap_or_default()
}

fn typed(fields: &Fields) -> (Draft, Vec<FieldError>) {
    let mut read = Reader::new(fields);
    let count = fields.typed("parts").parse().unwrap_or(0_usize).min(MOST_PARTS);
    // Browsers end lines with CR LF; the bank's files do not.
    let lines = |text: &str| text.replace("\r\n", "\n");
    let mut parts = Vec::new();
    for place in 0..count {
        let field = field(place);
        let part = read.lines(&field, |text| Ok::<_, String>(lines(text)));
        // A part with a hidden character is shown again as it was typed.
        parts.push(part.unwrap_or_else(|| lines(fields.typed(&field))));
    }
    let draft = Draft {
        id: fields.typed("id").to_owned(),
        base: fields.typed("base").parse().unwrap_or_default(),
        text: join(parts.iter().map(String::as_str)),
    };
    (draft, read.into_errors())
}

fn field(place: usize) -> String {
    format!("part_{place}")
}

fn with_problems(app: &App, reader: &SignedIn, draft: Draft, problems: &[Problem]) -> Result<HttpResponse, PageError> {
    let parts = cut(&draft.text);
    let errors = problems.iter().map(|problem| said(problem, &parts)).collect();
    shown(app, reader, draft, With { errors, ..With::default() })
}

async fn with_change(
    app: &App,
    reader: &SignedIn,
    draft: Draft,
    change: publish_machine::Change,
    notice: &str,
) -> Result<HttpResponse, PageError> {
    let before = if draft.base > 0 { newest(app, &draft.id).await? } else { None };
    let sections = before.map(|before| sections::changed(&cut(&before.source), &cut(&draft.text)));
    let change = Shown::new(change, sections, &app.deeds.bank.now().bank, &reader.time_zone)?;
    shown(app, reader, draft, With { change: Some(change), notice: Some(notice.to_owned()), ..With::default() })
}

/// A problem beside the section it is in, with the line as it is counted there.
fn said(problem: &Problem, parts: &[Part]) -> FieldError {
    let (at, line) = sections::place(parts, problem.line);
    let (name, label) = parts.get(at).map(|part| (part.name.as_str(), part.label())).unwrap_or_default();
    let Problem { field: full, message, .. } = problem;
    let inside = full.strip_prefix(name).and_then(|rest| rest.strip_prefix('.')).unwrap_or(full);
    let inside = if inside.is_empty() { String::new() } else { format!("{inside}: ") };
    let end = if message.ends_with(['.', '?']) { "" } else { "." };
    FieldError { field: field(at), message: format!("{label}, line {line}: {inside}{message}{end}") }
}

/// The draft with the version that somebody else has published meanwhile; it follows that one now.
async fn overtaken(app: &App, reader: &SignedIn, draft: Draft) -> Result<HttpResponse, PageError> {
    let error = |at: usize, message: &str| vec![FieldError { field: field(at), message: message.to_owned() }];
    if draft.base == 0 {
        return shown(app, reader, draft, With { errors: error(0, TAKEN), ..With::default() });
    }
    let all = versions(&app.deeds.db, DocumentKind::Machine, &draft.id).await?;
    let theirs = all.first().ok_or(PageError::NotFound)?;
    let began_from = all.iter().find(|document| number(document) == draft.base);
    let overtaken = Overtaken {
        version: number(theirs),
        theirs: cut(&theirs.source),
        began_from: began_from.map(|document| cut(&document.source)).unwrap_or_default(),
    };
    let first = cut(&draft.text).iter().position(|part| overtaken.beside(part).is_some());
    let with = With { errors: error(first.unwrap_or(0), OVERTAKEN), overtaken: Some(overtaken), ..With::default() };
    let base = number(theirs);
    shown(app, reader, Draft { base, ..draft }, with)
}

/// The form with what was typed, what is wrong, and what it would change.
fn shown(app: &App, reader: &SignedIn, draft: Draft, with: With) -> Result<HttpResponse, PageError> {
    let title = if draft.base == 0 { "New machine".to_owned() } else { format!("Change {}", draft.id) };
    let mut page = reader.page(&title, "/machines");
    let wrong = !with.errors.is_empty();
    page.errors = with.errors;
    page.notice = with.notice.filter(|_| !wrong);
    let mine = cut(&draft.text);
    let overtaken = with.overtaken.as_ref();
    let added = |part: &&Part| {
        let missing = |parts: &[Part]| !parts.iter().any(|other| other.name == part.name);
        missing(&mine) && overtaken.is_some_and(|overtaken| missing(&overtaken.began_from))
    };
    let only_theirs = overtaken.iter().flat_map(|overtaken| &overtaken.theirs).filter(added);
    let edit = Edit {
        page,
        only_theirs: only_theirs.map(|part| Theirs { label: part.label(), text: part.text.clone() }).collect(),
        parts: mine.iter().enumerate().map(|(at, part)| part_shown(at, part, overtaken)).collect(),
        overtaken: overtaken.map(|overtaken| overtaken.version),
        change: with.change,
        id: draft.id,
        base: draft.base,
    };
    if wrong { reply::form_again(app, TEMPLATE, &edit) } else { reply::page(app, TEMPLATE, &edit) }
}

fn part_shown(at: usize, part: &Part, overtaken: Option<&Overtaken>) -> PartShown {
    PartShown {
        field: field(at),
        label: part.label(),
        rows: part.text.trim_end().lines().count().clamp(2, 30) + 1,
        text: part.text.clone(),
        theirs: overtaken.and_then(|overtaken| overtaken.beside(part)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_somebody_else_changed_stands_beside_mine_and_nothing_else_does() {
        let before = "[a]\nx = 1\n[b]\nx = 1\n[c]\nx = 1\n[d]\nx = 1\n";
        let overtaken =
            Overtaken { version: 2, theirs: cut("[a]\nx = 2\n[b]\nx = 2\n[c]\nx = 1\n"), began_from: cut(before) };
        let mine = cut("[a]\nx = 3\n[b]\nx = 2\n[c]\nx = 3\n[d]\nx = 3\n");
        let beside: Vec<_> = mine.iter().map(|part| (part.name.as_str(), overtaken.beside(part))).collect();
        let theirs = |text: &str| Some(text.to_owned());
        // Both changed a, differently; b alike; c only I; d is gone from theirs.
        assert_eq!(beside, [("", None), ("a", theirs("[a]\nx = 2")), ("b", None), ("c", None), ("d", theirs(""))]);
    }
}
