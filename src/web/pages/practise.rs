//! `/practise`: the modules with how it went so far, asking the next question, answering it, its explanation.

mod question;

pub use question::{answer, show as question};

use super::learn::practised_words;
use crate::actions::ask_practice_question::{Asked, ask_practice_question};
use crate::domain::bank::{Bank, Module};
use crate::store::read::practice;
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct Row {
    id: String,
    number: u32,
    title: String,
    practised: Option<String>,
    may_ask: bool,
}

#[derive(Serialize)]
struct List {
    page: Page,
    rows: Vec<Row>,
}

/// The modules, those of the reader's scheme if there is one.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let in_use = app.deeds.bank.now();
    let bank = &in_use.bank;
    let practised = practice::of_person(&app.deeds.db, reader.person).await?;
    let row = |module: &Module| Row {
        id: module.id.clone(),
        number: module.number,
        title: module.title.clone(),
        practised: practised_words(practised.get(&module.id)),
        may_ask: has_questions(bank, module),
    };
    let mut page = reader.page("Practise", "/practise");
    if Fields::from_text(request.query_string())?.typed("nothing") == "yes" {
        page.notice = Some("There is no question for this module now. Take another one.".to_owned());
    }
    let rows = bank.modules().iter().map(row).collect();
    reply::page(&app, "pages/practise/modules.html", &List { page, rows })
}

fn has_questions(bank: &Bank, module: &Module) -> bool {
    bank.templates().any(|entry| module.competences.contains(&entry.template.competence))
}

/// Asks the next question of a module: the one that waits for its answer, or a new one.
///
/// # Errors
/// No such module, or the program cannot do it now.
pub async fn ask(app: web::Data<App>, reader: SignedIn, module: web::Path<String>) -> Result<HttpResponse, PageError> {
    if app.deeds.bank.now().bank.module(&module).is_none() {
        return Err(PageError::NotFound);
    }
    match ask_practice_question(&app.deeds, reader.person, reader.temperature_unit, &module).await? {
        Asked::Question(attempt, position) => Ok(reply::see_other(&format!("/practise/question/{attempt}/{position}"))),
        Asked::NothingToAsk => Ok(reply::see_other("/practise?nothing=yes")),
    }
}
