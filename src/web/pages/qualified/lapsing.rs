//! `/qualified/lapsing`: what ends in the next 30, 60 or 90 days, the first to end in front.

use crate::domain::certification::certificate::State;
use crate::domain::units::Moment;
use crate::store::read::matrix::{MatrixFilter, matrix};
use crate::store::{BranchId, branches};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::pages::record::scheme_title;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

/// The stretches that can be asked for, in days.
const DAYS: [i64; 3] = [30, 60, 90];
/// Certificates on one page.
const PAGE: usize = 50;

#[derive(Serialize)]
struct Choice {
    value: String,
    text: String,
}

#[derive(Serialize)]
struct Row {
    name: String,
    href: String,
    branch: String,
    scheme: String,
    number: String,
    /// When it ends, or rests because a refresher was not taken.
    at: i64,
    days: i64,
    why: &'static str,
}

#[derive(Serialize)]
struct Lapsing {
    page: Page,
    days: String,
    branch: String,
    stretches: Vec<Choice>,
    branches: Vec<Choice>,
    said: String,
    rows: Vec<Row>,
    from: usize,
    to: usize,
    total: usize,
    before: Option<String>,
    after: Option<String>,
    now: i64,
    zone: String,
}

/// The list.
///
/// # Errors
/// The program cannot do it now.
pub async fn lapsing(app: web::Data<App>, request: HttpRequest, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let query = Fields::from_text(request.query_string())?;
    let days = query.typed("days").parse().ok().filter(|days| DAYS.contains(days)).unwrap_or(DAYS[1]);
    let branch = query.typed("branch").parse::<BranchId>().ok();
    let now = app.deeds.clock.now();
    let rows = rows(&app, branch, now).await?;
    let within = |days: i64| rows.iter().filter(|row| row.at < now.plus_seconds(days * 86_400).0).count();
    let counts: Vec<String> = DAYS.iter().map(|days| format!("{} in {days} days", within(*days))).collect();
    let total = within(days);
    let pages = total.div_ceil(PAGE).max(1);
    let number = query.typed("page").parse::<usize>().unwrap_or(1).clamp(1, pages);
    let (first, last) = ((number - 1) * PAGE, (number * PAGE).min(total));
    let in_query = branch.map(|branch| branch.to_string()).unwrap_or_default();
    let href = |number: usize| format!("/qualified/lapsing?days={days}&branch={in_query}&page={number}");
    let all = Choice { value: String::new(), text: "All branches".to_owned() };
    let known = branches::list(&app.deeds.db).await?;
    let each = known.iter().map(|branch| Choice { value: branch.id.to_string(), text: branch.name.clone() });
    let context = Lapsing {
        page: reader.page("What lapses soon", "/qualified"),
        days: days.to_string(),
        branch: in_query.clone(),
        stretches: DAYS.map(|days| Choice { value: days.to_string(), text: format!("{days} days") }).into(),
        branches: std::iter::once(all).chain(each).collect(),
        said: format!("Certificates that end or begin to rest: {}.", counts.join(", ")),
        // In the order of their ends: those within the stretch come first.
        rows: rows.into_iter().skip(first).take(last - first).collect(),
        from: if total == 0 { 0 } else { first + 1 },
        to: last,
        total,
        before: (number > 1).then(|| href(number - 1)),
        after: (number < pages).then(|| href(number + 1)),
        now: now.0,
        zone: reader.time_zone,
    };
    reply::page(&app, "pages/qualified/lapsing.html", &context)
}

/// Every certificate that stands, the first to end in front.
async fn rows(app: &App, branch: Option<BranchId>, now: Moment) -> Result<Vec<Row>, PageError> {
    let in_use = app.deeds.bank.now();
    let mut rows = Vec::new();
    for person in matrix(&app.deeds.db, &MatrixFilter { branch, ..MatrixFilter::default() }).await? {
        for one in &person.certification.certificates {
            let (at, why) = match person.certification.state_of(one, now) {
                State::Valid => (one.entry.valid_until, "ends"),
                State::RefresherDue { by, .. } if by < one.entry.valid_until => (by, "rests without a refresher"),
                State::RefresherDue { .. } => (one.entry.valid_until, "ends"),
                State::Suspended { .. } | State::Withdrawn { .. } | State::Lapsed { .. } | State::Renewed { .. } => {
                    continue;
                }
            };
            rows.push(Row {
                name: person.display_name.clone(),
                href: format!("/qualified/people/{}", person.person_id),
                branch: person.branch_name.clone(),
                scheme: scheme_title(&in_use.bank, Some(&one.entry.scheme_key)),
                number: one.number.to_string(),
                at: at.0,
                days: at.seconds_since(now) / 86_400,
                why,
            });
        }
    }
    rows.sort_by_key(|row| row.at);
    Ok(rows)
}
