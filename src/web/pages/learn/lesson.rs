//! A lesson, and noting that it was read.

use super::Progress;
use crate::actions::read_lesson::read_lesson;
use crate::domain::bank::{Bank, Lesson, Module};
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::lesson::{Part, parts};
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct LessonPage {
    page: Page,
    module: String,
    module_number: u32,
    module_title: String,
    number: usize,
    of: usize,
    read: bool,
    read_words: Option<&'static str>,
    parts: Vec<Part>,
    /// Where noting that it was read is sent to.
    read_href: String,
    before: Option<String>,
    /// The lesson after this one; nothing after the last.
    after: Option<String>,
}

fn find<'b>(bank: &'b Bank, module: &str, lesson: &str) -> Option<(&'b Module, usize, &'b Lesson)> {
    let module = bank.module(module)?;
    let at = module.lessons.iter().position(|known| known.id == lesson)?;
    Some((module, at, &module.lessons[at]))
}

fn href(module: &Module, at: usize) -> Option<String> {
    module.lessons.get(at).map(|lesson| format!("/learn/{}/{}", module.id, lesson.id))
}

/// The lesson, drawn in the reader's units.
///
/// # Errors
/// No such lesson, or the program cannot do it now.
pub async fn show(
    app: web::Data<App>,
    reader: SignedIn,
    path: web::Path<(String, String)>,
) -> Result<HttpResponse, PageError> {
    let in_use = app.deeds.bank.now();
    let (module, at, lesson) = find(&in_use.bank, &path.0, &path.1).ok_or(PageError::NotFound)?;
    let progress = Progress::of(&app, reader.person).await?;
    let read = progress.has_read(module, &lesson.id);
    let page = LessonPage {
        page: reader.page(&lesson.title, "/learn"),
        module: module.id.clone(),
        module_number: module.number,
        module_title: module.title.clone(),
        number: at + 1,
        of: module.lessons.len(),
        read,
        read_words: read.then_some("read"),
        parts: parts(&lesson.text, &in_use.bank, reader.temperature_unit),
        read_href: format!("/learn/{}/{}/read", module.id, lesson.id),
        before: at.checked_sub(1).and_then(|before| href(module, before)),
        after: href(module, at + 1),
    };
    reply::page(&app, "pages/learn/lesson.html", &page)
}

/// Notes that the lesson was read; goes to the next one, after the last back to the module.
///
/// # Errors
/// No such lesson, or the program cannot do it now.
pub async fn read(
    app: web::Data<App>,
    reader: SignedIn,
    path: web::Path<(String, String)>,
) -> Result<HttpResponse, PageError> {
    let in_use = app.deeds.bank.now();
    let (module, at, lesson) = find(&in_use.bank, &path.0, &path.1).ok_or(PageError::NotFound)?;
    if !read_lesson(&app.deeds, reader.person, &module.id, &lesson.id).await? {
        return Err(PageError::NotFound);
    }
    Ok(reply::see_other(&href(module, at + 1).unwrap_or_else(|| format!("/learn/{}", module.id))))
}
