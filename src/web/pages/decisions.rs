//! `/decisions`: what waits for a decision, then what was decided; one decision with all it rests on; certificates.
//!
//! Never offers a decision to whom the rules bar from it, and never shows another branch's before there is an appeal.

mod certificate;
mod one;
mod paper;
mod words;

pub(super) use certificate::certificate_page;
pub use certificate::{change, show as certificate};
pub use one::{decide, hear, show};
pub(super) use paper::{Form, paper_of, scope_of};
pub use paper::{paper, signed_file};

use super::record::{decided, found, scheme_title};
use crate::actions::decide::Decider;
use crate::domain::bank::Bank;
use crate::domain::certification::proposal::Proposes;
use crate::domain::units::Moment;
use crate::store::read::decisions::{DecisionLine, lines};
use crate::web::dates::day;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::{HttpResponse, web};
use serde::Serialize;

/// Decided ones that are shown; the others stand in each person's record.
const SHOWN: usize = 100;

#[derive(Serialize)]
struct Entry {
    href: String,
    title: String,
    note: String,
    state: Option<String>,
}

#[derive(Serialize)]
struct List {
    page: Page,
    waiting: Vec<Entry>,
    appeals: Vec<Entry>,
    decided: Vec<Entry>,
}

/// Who decides: the reader.
fn decider(reader: &SignedIn) -> Decider {
    Decider { person: reader.person, role: reader.role, branch: reader.branch }
}

/// What waits, the longest first; then what was decided, the newest first.
///
/// # Errors
/// The program cannot do it now.
pub async fn list(app: web::Data<App>, reader: SignedIn) -> Result<HttpResponse, PageError> {
    let in_use = app.deeds.bank.now();
    let (bank, now, zone) = (&in_use.bank, app.deeds.clock.now(), &reader.time_zone);
    let by = decider(&reader);
    let all = lines(&app.deeds.db, None).await?;
    let entries = |wanted: &dyn Fn(&DecisionLine) -> bool| {
        all.iter().filter(|line| wanted(line)).map(|line| entry(bank, line, now, zone)).collect::<Result<Vec<_>, _>>()
    };
    let mut waiting = entries(&|line| by.is_to_decide(line, now))?;
    let mut appeals = entries(&DecisionLine::appeal_waits)?;
    waiting.reverse();
    appeals.reverse();
    let mut decided =
        entries(&|line| line.decided.is_some() && by.looks_after(line.branch_id) && !line.appeal_waits())?;
    decided.truncate(SHOWN);
    reply::page(
        &app,
        "pages/decisions/list.html",
        &List { page: reader.page("Decisions", "/decisions"), waiting, appeals, decided },
    )
}

/// How many proposals and appeals wait for this reader.
pub(super) async fn waiting_for(app: &App, reader: &SignedIn) -> Result<usize, PageError> {
    let (by, now) = (decider(reader), app.deeds.clock.now());
    let all = lines(&app.deeds.db, None).await?;
    Ok(all.iter().filter(|line| by.is_awaited(line, now)).count())
}

fn entry(bank: &Bank, line: &DecisionLine, now: Moment, zone: &str) -> Result<Entry, PageError> {
    let proposed = match line.proposes {
        Proposes::Grant => "proposed: to grant",
        Proposes::Refuse => "proposed: to refuse",
    };
    let examined = day(line.examined_at, zone)?;
    let state = match line.appealed_at {
        Some(at) if line.finding.is_none() => format!("appeal of {}", day(at, zone)?),
        Some(_) => format!("{}; appeal {}", decided(line, now, zone)?, found(line.finding)),
        None if line.decided.is_some() => decided(line, now, zone)?,
        None => proposed.to_owned(),
    };
    Ok(Entry {
        href: format!("/decisions/{}", line.attempt_id),
        title: line.display_name.clone(),
        note: format!("{}, {}, examined {examined}", line.branch_name, scheme_title(bank, Some(&line.scheme_key))),
        state: Some(state),
    })
}
