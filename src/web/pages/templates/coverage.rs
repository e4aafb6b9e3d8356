//! What the bank asks about, and what it leaves out.
//!
//! Shows no question and no key.

use crate::domain::bank::coverage::{Coverage, QUESTIONS, Table, Variety};
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

#[derive(Serialize)]
struct Cell {
    column: String,
    scenarios: usize,
}

#[derive(Serialize)]
struct Row {
    competence: String,
    mandatory: bool,
    cells: Vec<Cell>,
}

#[derive(Serialize)]
struct Against {
    caption: String,
    columns: Vec<String>,
    rows: Vec<Row>,
}

#[derive(Serialize)]
struct Scenario {
    key: String,
    title: String,
    questions: usize,
    different: usize,
    answers: usize,
    alike: bool,
}

#[derive(Serialize)]
struct Covered {
    page: Page,
    holes: Vec<String>,
    tables: Vec<Against>,
    scenarios: Vec<Scenario>,
    questions: u64,
}

/// The tables with their holes in words.
///
/// # Errors
/// The page cannot be drawn.
pub async fn show(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let read = app.deeds.bank.now();
    // Some ten thousand questions: a core's work for a moment, in which others must be served.
    let coverage = web::block(move || Coverage::of(&read.bank, QUESTIONS)).await;
    let coverage = coverage.map_err(|error| PageError::Fault(error.to_string()))?;
    let covered = Covered {
        page: reader.page("What the bank asks about", "/templates"),
        holes: coverage.holes,
        tables: coverage.tables.into_iter().map(against).collect(),
        scenarios: coverage.varieties.into_iter().map(scenario).collect(),
        questions: QUESTIONS,
    };
    reply::page(&app, "pages/templates/coverage.html", &covered)
}

fn against(Table { across, columns, rows }: Table) -> Against {
    let row = |row: crate::domain::bank::coverage::TableRow| Row {
        competence: row.competence,
        mandatory: row.mandatory,
        cells: columns
            .iter()
            .zip(row.scenarios)
            .map(|(column, scenarios)| Cell { column: column.clone(), scenarios })
            .collect(),
    };
    Against { caption: format!("Scenarios by {across}"), rows: rows.into_iter().map(row).collect(), columns }
}

fn scenario(of: Variety) -> Scenario {
    let alike = of.is_always_answered_alike();
    let Variety { template: key, title, questions, different, answers } = of;
    Scenario { key, title, questions, different, answers, alike }
}
