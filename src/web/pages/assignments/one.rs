//! One assignment: who has done it and who has not, and taking it back.

use super::list::{far, to_words};
use super::progress::{due, thing};
use crate::actions::withdraw_assignment::withdraw_assignment;
use crate::domain::certification::assignment::Progress;
use crate::store::assignments::{self, ToWhom};
use crate::store::read::assigned::learners;
use crate::store::{AssignmentId, branches, people};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::pages::record::said;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/assignments/one.html";
/// People on one page.
const PAGE: usize = 100;

#[derive(Serialize)]
struct Row {
    name: String,
    href: String,
    branch: String,
    state: &'static str,
}

#[derive(Serialize)]
struct One {
    page: Page,
    id: i64,
    thing: String,
    to_whom: String,
    due: String,
    by: String,
    made_at: i64,
    entry: i64,
    /// When it was withdrawn, and why.
    withdrawn: Option<(i64, String)>,
    said: String,
    rows: Vec<Row>,
    from: usize,
    to: usize,
    total: usize,
    before: Option<String>,
    after: Option<String>,
    reason: String,
    zone: String,
}

/// The assignment.
///
/// # Errors
/// No such assignment, or the program cannot do it now.
pub async fn one(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    id: web::Path<i64>,
) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let context = drawn(&app, &reader, AssignmentId(id.into_inner()), &query, Vec::new()).await?;
    reply::page(&app, TEMPLATE, &context)
}

/// Takes it back.
///
/// # Errors
/// No such assignment, or the program cannot do it now.
pub async fn withdraw(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let id = AssignmentId(id.into_inner());
    let mut form = Reader::new(&fields);
    if let Some(reason) = form.lines("reason", |typed| said(typed, "Write down why it is taken back.")) {
        withdraw_assignment(&app.deeds, reader.person, id, &reason).await?;
        return Ok(reply::see_other("/assignments?done=withdrawn"));
    }
    let context = drawn(&app, &reader, id, &fields, form.into_errors()).await?;
    reply::form_again(&app, TEMPLATE, &context)
}

async fn drawn(
    app: &App,
    reader: &SignedIn,
    id: AssignmentId,
    typed: &Fields,
    errors: Vec<FieldError>,
) -> Result<One, PageError> {
    let (in_use, now, db) = (app.deeds.bank.now(), app.deeds.clock.now(), &app.deeds.db);
    let of = assignments::by_id(db, id).await?;
    let at = if let ToWhom::Branch(branch) = of.entry.to { Some(branch) } else { None };
    let all = learners(db, at, &assignments::modules_of(std::slice::from_ref(&of))).await?;
    let names = all.iter().map(|one| (one.person_id, one.display_name.clone())).collect();
    let mut far = far(&in_use.bank, &of, &all, now)?;
    // Stable: by branch and name within each state; what is overdue comes first.
    far.sort_by_key(|(_, progress)| *progress);
    let count = |wanted| far.iter().filter(|(_, progress)| *progress == wanted).count();
    let (done, late) = (count(Progress::Done), count(Progress::Overdue));
    let total = far.len();
    let pages = total.div_ceil(PAGE).max(1);
    let number = typed.typed("page").parse::<usize>().unwrap_or(1).clamp(1, pages);
    let (first, last) = ((number - 1) * PAGE, (number * PAGE).min(total));
    let row = |(one, progress): &(&crate::store::read::assigned::Learner, Progress)| Row {
        name: one.display_name.clone(),
        href: format!("/qualified/people/{}", one.person_id),
        branch: one.branch_name.clone(),
        state: progress.word(),
    };
    let rows = far[first..last].iter().map(row).collect();
    let title = thing(&in_use.bank, &of);
    let mut page = reader.page(&title, "/assignments");
    page.errors = errors;
    Ok(One {
        page,
        id: id.0,
        thing: title,
        to_whom: to_words(of.entry.to, &branches::list(db).await?, &names),
        due: due(&of),
        by: people::by_id(db, of.entry.made_by).await?.display_name,
        made_at: of.entry.made_at.0,
        entry: of.entry.record_entry_id.0,
        withdrawn: of.withdrawn.map(|of| (of.at.0, of.reason)),
        said: format!("{done} of {total} have done it. Overdue: {late}."),
        rows,
        from: if total == 0 { 0 } else { first + 1 },
        to: last,
        total,
        before: (number > 1).then(|| format!("/assignments/{id}?page={}", number - 1)),
        after: (number < pages).then(|| format!("/assignments/{id}?page={}", number + 1)),
        reason: typed.typed("reason").to_owned(),
        zone: reader.time_zone.clone(),
    })
}
