//! A module's card: its lessons, its practice, and the examinations it prepares for.

use super::{Entry, Progress, competences, practised_words};
use crate::store::read::practice;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct ModulePage {
    page: Page,
    id: String,
    number: u32,
    of: usize,
    says: String,
    minutes: u32,
    read: String,
    competences: String,
    lessons: Vec<Entry>,
    /// The first lesson that is not read yet.
    next: Option<Next>,
    practised: Option<String>,
    examinations: Vec<String>,
}

#[derive(Serialize)]
struct Next {
    href: String,
    number: usize,
}

/// The card.
///
/// # Errors
/// No such module, or the program cannot do it now.
pub async fn show(app: web::Data<App>, reader: SignedIn, id: web::Path<String>) -> Result<HttpResponse, PageError> {
    let in_use = app.deeds.bank.now();
    let bank = &in_use.bank;
    let module = bank.module(&id).ok_or(PageError::NotFound)?;
    let progress = Progress::of(&app, reader.person).await?;
    let practised = practice::of_person(&app.deeds.db, reader.person).await?;
    let href = |lesson: &str| format!("/learn/{}/{lesson}", module.id);
    let lessons = module.lessons.iter().map(|lesson| Entry {
        href: href(&lesson.id),
        title: lesson.title.clone(),
        note: None,
        state: Some(if progress.has_read(module, &lesson.id) { "read" } else { "not read yet" }.to_owned()),
    });
    let unread = module.lessons.iter().zip(1..).find(|(lesson, _)| !progress.has_read(module, &lesson.id));
    let schemes = bank.schemes().filter(|entry| entry.scheme.modules.contains(&module.id));
    let page = ModulePage {
        page: reader.page(&module.title, "/learn"),
        id: module.id.clone(),
        number: module.number,
        of: bank.modules().len(),
        says: module.says.clone(),
        minutes: module.minutes,
        read: progress.words(module),
        competences: competences(bank, module),
        lessons: lessons.collect(),
        next: unread.map(|(lesson, number)| Next { href: href(&lesson.id), number }),
        practised: practised_words(practised.get(&module.id)),
        examinations: schemes.map(|entry| entry.scheme.title.clone()).collect(),
    };
    reply::page(&app, "pages/learn/module.html", &page)
}
