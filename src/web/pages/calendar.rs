//! `/calendar`: a service manager's calendar of what lapses and what is due at their branch, at a secret address that
//! calendar programs read.
//!
//! Never tells a wrong address from one that was replaced.

use crate::actions::Token;
use crate::actions::renew_calendar::renew_calendar;
use crate::domain::bank::Bank;
use crate::domain::units::Moment;
use crate::exchange::icalendar::{DayEvent, calendar};
use crate::store::assignments::{self, ToWhom};
use crate::store::branches::Branch;
use crate::store::read::assigned::{Learner, learners};
use crate::store::{branches, calendar_feeds};
use crate::web::dates::{local, read_day};
use crate::web::error::PageError;
use crate::web::form::Fields;
use crate::web::guard::SignedIn;
use crate::web::pages::assignments::progress::thing;
use crate::web::pages::record::scheme_title;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;
use std::collections::BTreeSet;

#[derive(Serialize)]
struct CalendarPage {
    page: Page,
    branch: String,
    /// The address, this once.
    fresh: Option<String>,
    /// What the form carries, so that two clicks make one address.
    click: String,
    made_at: Option<i64>,
    zone: String,
}

/// The page on which the address is made.
///
/// # Errors
/// The program cannot do it now.
pub async fn show(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    drawn(&app, &reader, None).await
}

/// Makes a new address; the one before it opens nothing any more.
///
/// # Errors
/// The program cannot do it now.
pub async fn renew(app: web::Data<App>, reader: SignedIn, fields: Fields) -> Result<HttpResponse, PageError> {
    let secret = renew_calendar(&app.deeds, reader.person, &fields.click()?).await?;
    drawn(&app, &reader, Some(format!("{}/calendar/{}.ics", app.deeds.origin, secret.as_str()))).await
}

async fn drawn(app: &App, reader: &SignedIn, fresh: Option<String>) -> Result<HttpResponse, PageError> {
    let mut page = reader.page("Calendar", "/qualified");
    page.notice = fresh.as_ref().map(|_| "Made. Copy the address now: it is not shown again.".to_owned());
    let made_at = calendar_feeds::find_made_at(&app.deeds.db, reader.person).await?;
    let context = CalendarPage {
        page,
        branch: reader.branch_name.clone(),
        fresh,
        click: Token::fresh()?.as_str().to_owned(),
        made_at: made_at.map(|made| made.0),
        zone: reader.time_zone.clone(),
    };
    reply::page(app, "pages/calendar/calendar.html", &context)
}

/// The calendar itself.
///
/// # Errors
/// No such address, or the program cannot do it now.
pub async fn feed(app: web::Data<App>, secret: web::Path<String>) -> Result<HttpResponse, PageError> {
    let secret = Token::from_text(&secret).ok_or(PageError::NotFound)?;
    let reader = app.deeds.recognise_calendar(&secret).await?.ok_or(PageError::NotFound)?;
    let branch = branches::by_id(&app.deeds.db, reader.branch_id).await?;
    let events = events(&app, &branch).await?;
    let text = calendar(&format!("Sootmark, {}", branch.name), &events);
    Ok(HttpResponse::Ok().content_type("text/calendar; charset=utf-8").body(text))
}

/// What ends and what is due, by day.
async fn events(app: &App, branch: &Branch) -> Result<Vec<DayEvent>, PageError> {
    let (in_use, db) = (app.deeds.bank.now(), &app.deeds.db);
    let origin = &app.deeds.origin;
    let here = learners(db, Some(branch.id), &BTreeSet::new()).await?;
    let now = app.deeds.clock.now();
    let mut events = Vec::new();
    for person in &here {
        events.extend(ends(&in_use.bank, person, now, origin)?);
    }
    for of in assignments::all(db).await?.into_iter().filter(|of| of.withdrawn.is_none()) {
        let Some(one) = here.iter().find(|one| of.is_for(one.person_id, one.branch_id, one.role)) else { continue };
        let whom = match of.entry.to {
            ToWhom::Person(_) => one.display_name.clone(),
            ToWhom::Branch(_) => format!("everyone at {}", branch.name),
            ToWhom::Role(role) => format!("every {role}"),
        };
        let Some(day) = read_day(&of.entry.due_day) else { continue };
        events.push(DayEvent {
            uid: format!("assignment-{}@{}", of.id, host(origin)),
            stamp: utc(of.entry.made_at)?,
            day: day.strftime("%Y%m%d").to_string(),
            summary: format!("Due: {}, {whom}", thing(&in_use.bank, &of)),
            description: "The last day for it. Who has done it, and who has not, is on the page.".to_owned(),
            url: format!("{origin}/assignments/{}", of.id),
        });
    }
    events.sort_by(|a, b| (&a.day, &a.uid).cmp(&(&b.day, &b.uid)));
    Ok(events)
}

/// The days on which somebody's standing certificates end.
fn ends(bank: &Bank, person: &Learner, now: Moment, origin: &str) -> Result<Vec<DayEvent>, PageError> {
    let standing = |one: &&crate::store::certificates::Certificate| person.certification.state_of(one, now).stands();
    let event = |one: &crate::store::certificates::Certificate| {
        let scheme = scheme_title(bank, Some(&one.entry.scheme_key));
        Ok(DayEvent {
            uid: format!("certificate-{}@{}", one.number, host(origin)),
            stamp: utc(one.entry.valid_from)?,
            day: local(one.entry.valid_until, &person.time_zone)?.strftime("%Y%m%d").to_string(),
            summary: format!("Lapses: {}, {scheme}", person.display_name),
            description: format!("Certificate {} ends. From then on they are not sent to such work.", one.number),
            url: format!("{origin}/qualified/people/{}", person.person_id),
        })
    };
    person.certification.certificates.iter().filter(standing).map(event).collect()
}

/// The origin without its scheme: what makes a UID unique in the world.
fn host(origin: &str) -> &str {
    origin.split_once("://").map_or(origin, |(_, host)| host)
}

fn utc(moment: Moment) -> Result<String, PageError> {
    Ok(local(moment, "UTC")?.strftime("%Y%m%dT%H%M%SZ").to_string())
}
