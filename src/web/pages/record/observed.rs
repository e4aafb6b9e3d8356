//! The practical tasks in a person's record as rows: signed ones, and for a service manager open ones too.

use super::events::{Event, machine_name};
use super::of_person::Seen;
use crate::store::{PersonId, observations};
use crate::web::App;
use crate::web::error::PageError;
use serde::Serialize;

/// Not signed by both.
const OPEN: &str = "open";

#[derive(Serialize)]
pub(super) struct ObservedRow {
    href: String,
    task: &'static str,
    machine: String,
    at: i64,
    state: &'static str,
}

/// The newest first.
pub(super) async fn observed_rows(app: &App, person: PersonId, seen: Seen) -> Result<Vec<ObservedRow>, PageError> {
    let all = observations::of_person(&app.deeds.db, person).await?;
    let signed = observations::signed_of(&app.deeds.db, all.iter().map(|of| of.id)).await?;
    let in_use = app.deeds.bank.now();
    let bank = &in_use.bank;
    let row = |of: &observations::Observation| {
        let result = signed.get(&of.id);
        Some(ObservedRow {
            href: match seen {
                Seen::ByThemselves => format!("/record/observations/{}", of.id),
                Seen::ByAManager => format!("/qualified/people/{person}/observations/{}", of.id),
            },
            task: of.task.name(),
            machine: machine_name(bank, &of.machine_key),
            at: result.map_or(of.opened_at, |signed| signed.signed_at).0,
            state: match result {
                Some(signed) if signed.outcome.passed => "passed",
                Some(_) => "not passed",
                None if seen == Seen::ByAManager => OPEN,
                None => return None,
            },
        })
    };
    Ok(all.iter().rev().filter_map(row).collect())
}

/// What both signed, as events of a whole history.
pub(super) async fn observed_events(app: &App, person: PersonId, seen: Seen) -> Result<Vec<Event>, PageError> {
    let of = observed_rows(app, person, seen).await?.into_iter().filter(|row| row.state != OPEN);
    let event = |row: ObservedRow| Event {
        at: row.at,
        what: format!("{}, watched: {}", row.task, row.state),
        href: Some(row.href),
        lines: vec![format!("Machine: {}.", row.machine)],
    };
    Ok(of.map(event).collect())
}
