//! `/people/{id}/time`: how much more time somebody gets in examinations, and why; only for those who may set it for them.

use crate::actions::Token;
use crate::actions::set_extra_time::{ExtraTimeSet, Setter, set_extra_time};
use crate::domain::examination::extra_time::ExtraTime;
use crate::store::people::{self, Person};
use crate::store::{PersonId, extra_times};
use crate::web::dates::day_and_time;
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::pages::record::said;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/people/time.html";

#[derive(Serialize)]
struct Before {
    at: String,
    by: String,
    words: String,
    reason: String,
}

#[derive(Serialize)]
struct TimePage {
    page: Page,
    id: i64,
    name: String,
    now: String,
    kind: String,
    amount: String,
    reason: String,
    key: String,
    before: Vec<Before>,
}

/// What counts now, what was set before, and the form.
///
/// # Errors
/// No such person for the reader, or the program cannot do it now.
pub async fn show(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    id: web::Path<i64>,
) -> Result<HttpResponse, PageError> {
    let person = somebody(&app, &reader, PersonId(id.into_inner())).await?;
    let mut shown = read(&app, &reader, person, &Fields::default(), Vec::new()).await?;
    if Fields::from_text(request.query_string())?.typed("done") == "set" {
        shown.page.notice = Some("Set. It counts from the next sitting that begins.".to_owned());
    }
    reply::page(&app, TEMPLATE, &shown)
}

/// Sets it.
///
/// # Errors
/// No such person for the reader, or the program cannot do it now.
pub async fn set(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let person = somebody(&app, &reader, PersonId(id.into_inner())).await?;
    let key = Token::from_text(fields.typed("key")).ok_or(PageError::Malformed("no key to set it with"))?;
    let mut form = Reader::new(&fields);
    let amount = fields.typed("amount").trim().to_owned();
    let extra = form.line("kind", |kind| extra_of(kind, &amount));
    let extra = match extra {
        Some(Some(extra)) => Some(extra),
        Some(None) => {
            let (percent, minutes) = (ExtraTime::MOST_PERCENT, ExtraTime::MOST_MINUTES);
            form.wrong("amount", format!("Type a whole number: 1 to {percent} %, or 1 to {minutes} min."));
            None
        }
        None => None,
    };
    let reason = form.lines("reason", |typed| said(typed, "Write down why, for those who have to know it."));
    if let (Some(extra), Some(reason)) = (extra, reason) {
        match set_extra_time(&app.deeds, setter(&reader), person.id, extra, &reason, key.as_str()).await? {
            ExtraTimeSet::Done => return Ok(reply::see_other(&format!("/people/{}/time?done=set", person.id))),
            ExtraTimeSet::Oneself => form.wrong("kind", "This is you. Somebody else sets your time."),
        }
    }
    let errors = form.into_errors();
    reply::form_again(&app, TEMPLATE, &read(&app, &reader, person, &fields, errors).await?)
}

/// What was chosen and typed; nothing inside when the number is none.
fn extra_of(kind: &str, amount: &str) -> Result<Option<ExtraTime>, &'static str> {
    let number = amount.parse::<u16>().ok().filter(|number| *number > 0);
    match kind {
        "none" => Ok(Some(ExtraTime::None)),
        "percent" => Ok(number.and_then(|percent| ExtraTime::of(percent, 0))),
        "minutes" => Ok(number.and_then(|minutes| ExtraTime::of(0, minutes))),
        _ => Err("Choose percent, minutes or no more time."),
    }
}

const fn setter(reader: &SignedIn) -> Setter {
    Setter { person: reader.person, role: reader.role, branch: reader.branch }
}

async fn somebody(app: &App, reader: &SignedIn, id: PersonId) -> Result<Person, PageError> {
    let person = people::by_id(&app.deeds.db, id).await?;
    if setter(reader).may_for(person.branch_id) { Ok(person) } else { Err(PageError::NotFound) }
}

async fn read(
    app: &App,
    reader: &SignedIn,
    person: Person,
    typed: &Fields,
    errors: Vec<FieldError>,
) -> Result<TimePage, PageError> {
    let db = &app.deeds.db;
    let all = extra_times::of_person(db, person.id).await?;
    let mut before = Vec::new();
    for one in &all {
        before.push(Before {
            at: day_and_time(one.set_at, &reader.time_zone)?,
            by: people::by_id(db, one.set_by).await?.display_name,
            words: one.extra.words(),
            reason: one.reason.clone(),
        });
    }
    let counts = all.first().map(|newest| newest.extra).unwrap_or_default();
    let mut page = reader.page("Time in examinations", "/people");
    page.errors = errors;
    Ok(TimePage {
        page,
        id: person.id.0,
        name: person.display_name,
        now: counts.words(),
        kind: typed.typed("kind").to_owned(),
        amount: typed.typed("amount").to_owned(),
        reason: typed.typed("reason").to_owned(),
        key: Token::fresh()?.as_str().to_owned(),
        before,
    })
}
