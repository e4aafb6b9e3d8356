//! `/learn`: the modules, a module's card, its lessons, and noting that one was read.

mod lesson;
mod module;

pub use lesson::{read, show as lesson};
pub use module::show as module;

use crate::domain::bank::{Bank, Module};
use crate::store::PersonId;
use crate::store::progress::{self, LessonRead};
use crate::store::read::practice::Practised;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

/// A full-width row that leads somewhere, as `lists.entries` takes it.
#[derive(Serialize)]
pub(super) struct Entry {
    pub(super) href: String,
    pub(super) title: String,
    pub(super) note: Option<String>,
    pub(super) state: Option<String>,
}

#[derive(Serialize)]
struct Modules {
    page: Page,
    /// What the reader works towards, if anything.
    scheme: Option<String>,
    /// The modules of that scheme; without one, all.
    first: Vec<Entry>,
    /// The other modules.
    others: Vec<Entry>,
}

/// The modules in order, those of the reader's scheme first.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let read = app.deeds.bank.now();
    let bank = &read.bank;
    let progress = Progress::of(&app, reader.person).await?;
    let scheme = reader.scheme_key.as_deref().and_then(|key| bank.scheme(key)).map(|entry| &entry.scheme);
    let entry = |module: &Module| Entry {
        href: format!("/learn/{}", module.id),
        title: format!("{}. {}", module.number, module.title),
        note: Some(format!("{} min. For: {}.", module.minutes, competences(bank, module))),
        state: Some(progress.words(module)),
    };
    let wanted = |module: &&Module| scheme.is_none_or(|scheme| scheme.modules.contains(&module.id));
    let (first, others): (Vec<&Module>, Vec<&Module>) = bank.modules().iter().partition(wanted);
    let list = Modules {
        page: reader.page("Learn", "/learn"),
        scheme: scheme.map(|scheme| scheme.title.clone()),
        first: first.into_iter().map(entry).collect(),
        others: others.into_iter().map(entry).collect(),
    };
    reply::page(&app, "pages/learn/modules.html", &list)
}

/// What a person has read.
struct Progress(Vec<LessonRead>);

impl Progress {
    async fn of(app: &App, person: PersonId) -> Result<Self, PageError> {
        Ok(Self(progress::lessons_read(&app.deeds.db, person).await?))
    }

    fn has_read(&self, module: &Module, lesson: &str) -> bool {
        self.0.iter().any(|read| read.module_key == module.id && read.lesson_key == lesson)
    }

    /// "2 of 3 lessons read", "3 lessons read".
    fn words(&self, module: &Module) -> String {
        let total = module.lessons.len();
        let read = module.lessons.iter().filter(|lesson| self.has_read(module, &lesson.id)).count();
        match (read, total) {
            (1, 1) => "lesson read".to_owned(),
            (read, total) if read == total => format!("all {total} lessons read"),
            (read, 1) => format!("{read} of 1 lesson read"),
            (read, total) => format!("{read} of {total} lessons read"),
        }
    }
}

/// The competences of a module in words.
fn competences(bank: &Bank, module: &Module) -> String {
    let name = |id: &String| {
        let competence = bank.competence(id)?;
        Some(if competence.mandatory { format!("{} (safety)", competence.name) } else { competence.name.clone() })
    };
    module.competences.iter().filter_map(name).collect::<Vec<_>>().join(", ")
}

/// "5 questions answered, 3 rightly"; nothing when none was.
pub(super) fn practised_words(practised: Option<&Practised>) -> Option<String> {
    let practised = practised.filter(|practised| practised.answered > 0)?;
    let questions = if practised.answered == 1 { "question" } else { "questions" };
    Some(format!("{} {questions} answered, {} rightly", practised.answered, practised.right))
}
