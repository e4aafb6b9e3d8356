//! Which misconceptions people's answers have shown lately, and what to teach against each.

use super::Choice;
use crate::domain::scenario::misconception::find;
use crate::store::read::misconceptions::counts;
use crate::store::{BranchId, branches};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

/// How far back the page looks, in days: a season.
const DAYS: i64 = 90;

#[derive(Serialize)]
struct Row {
    name: &'static str,
    believes: &'static str,
    teach: &'static str,
    answers: i64,
    people: usize,
}

#[derive(Serialize)]
struct Beliefs {
    page: Page,
    rows: Vec<Row>,
    branches: Vec<Choice>,
    branch: String,
    days: i64,
}

/// The misconceptions, most often seen first; of one branch or of all.
///
/// # Errors
/// The program cannot do it now.
pub async fn show(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let branch = query.typed("branch").parse::<BranchId>().ok();
    let since = app.deeds.clock.now().plus_seconds(-DAYS * 24 * 3600);
    let counted = counts(&app.deeds.db, since, branch).await?;
    let row = |count: &crate::store::read::misconceptions::MisconceptionCount| {
        let wrong = find(&count.misconception)?;
        let (answers, people) = (count.answers, count.people);
        Some(Row { name: wrong.name, believes: wrong.believes, teach: wrong.teach, answers, people })
    };
    let all = Choice { value: String::new(), text: "All branches".to_owned() };
    let each = branches::list(&app.deeds.db).await?.into_iter();
    let each = each.map(|branch| Choice { value: branch.id.to_string(), text: branch.name });
    let beliefs = Beliefs {
        page: reader.page("What people believe", "/templates"),
        rows: counted.iter().filter_map(row).collect(),
        branches: std::iter::once(all).chain(each).collect(),
        branch: branch.map(|branch| branch.to_string()).unwrap_or_default(),
        days: DAYS,
    };
    reply::page(&app, "pages/templates/beliefs.html", &beliefs)
}
