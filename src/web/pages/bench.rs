//! `/bench`: set load, speed, hours, soot and the inhibit switch of a machine, and see where it leads.
//!
//! Everybody who is signed in may; nothing is kept. The numbers are the model's own, from one journey.

mod outcome;
mod set;

use super::super::form::Fields;
use super::super::guard::SignedIn;
use super::super::view::Page;
use super::super::{App, reply};
use crate::web::error::PageError;
use actix_web::{HttpRequest, HttpResponse, web};
use outcome::{Outcome, outcome};
use serde::Serialize;
use set::{Set, Typed};

const TEMPLATE: &str = "pages/bench/bench.html";

/// A machine to choose.
#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Bench {
    page: Page,
    machines: Vec<Choice>,
    typed: Typed,
    /// The symbol of the reader's scale.
    degrees: &'static str,
    outcome: Option<Outcome>,
}

/// The bench as the query sets it; without one, as it stands at first.
///
/// # Errors
/// The query is not one, or the program cannot do it now.
pub async fn show(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let fields = Fields::from_text(request.query_string())?;
    let read = app.deeds.bank.now();
    let machines = read.bank.machines();
    let choices = machines.map(|of| Choice { value: of.profile.id.clone(), text: of.profile.name.clone() }).collect();
    let mut page = reader.page("Bench", "/bench");
    let unit = reader.temperature_unit;
    let degrees = set::degrees(unit);
    let Some(set) = Set::read(&fields, &read.bank, unit) else {
        let bench = Bench { page, machines: choices, typed: Typed::default(), degrees, outcome: None };
        return reply::page(&app, TEMPLATE, &bench);
    };
    page.errors = set.errors;
    let wrong = !page.errors.is_empty();
    let outcome = set.bench.map(|bench| outcome(set.profile, &bench, unit));
    let bench = Bench { page, machines: choices, typed: set.typed, degrees, outcome };
    if wrong { reply::form_again(&app, TEMPLATE, &bench) } else { reply::page(&app, TEMPLATE, &bench) }
}
