//! One person's whole history, oldest first, on one page that prints: examinations, practical tasks, talks, decisions, appeals, certificates and
//! what was done to them, what asked for a refresher, assignments, trainers, changes of role and branch, lessons.
//!
//! Never leaves out what speaks for or against somebody; practice is not among it, because it decides nothing.

use super::certified::found;
use super::events::{Event, Happened, machine_name, scheme_title};
use super::observed::observed_events;
use super::of_person::Seen;
use crate::domain::bank::Bank;
use crate::domain::certification::certificate::EventKind;
use crate::domain::certification::decision::Verdict;
use crate::store::named_trainers::Named;
use crate::store::people::Person;
use crate::store::read::certification::Certification;
use crate::store::read::decisions::DecisionLine;
use crate::store::read::history;
use crate::store::read::record_head::record_head;
use crate::store::record::RecordEntry;
use crate::store::{PersonId, assignments, branches, named_trainers, people, progress, record};
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::pages::assignments::progress::{due, thing};
use crate::web::view::Page;
use crate::web::{App, reply};
use actix_web::HttpResponse;
use serde::Serialize;
use std::collections::BTreeMap;

#[derive(Serialize)]
struct HistoryPage {
    page: Page,
    name: String,
    email: String,
    branch: String,
    role: &'static str,
    events: Vec<Event>,
    back: String,
    entries: i64,
    hash: String,
    now: i64,
    zone: String,
}

/// Draws a person's history for a service manager.
pub(in crate::web::pages) async fn history_page(
    app: &App,
    reader: &SignedIn,
    person: Person,
) -> Result<HttpResponse, PageError> {
    let in_use = app.deeds.bank.now();
    let (bank, db, zone) = (&in_use.bank, &app.deeds.db, &reader.time_zone);
    let seen = Seen::ByAManager;
    let all = history::of_person(db, person.id).await?;
    let happened = Happened {
        attempts: all.attempts,
        misses: history::mandatory_misses(db, person.id).await?,
        holders: history::debrief_holders(db, person.id).await?,
        lessons: progress::lessons_read(db, person.id).await?,
    };
    let mut events = vec![event(person.created_at.0, "Known here".to_owned(), Vec::new())];
    // `events` gives the newest first; here the oldest comes first.
    events.extend(happened.events(bank, seen, zone)?.into_iter().rev());
    events.extend(observed_events(app, person.id, seen).await?);
    events.extend(decisions(bank, &all.decisions, seen));
    events.extend(certificates(bank, &all.certification, seen));
    events.extend(triggers(&all.certification));
    for of in assignments::of_person(db, person.id, person.branch_id, person.role).await? {
        let lines = vec![format!("To be done by {}.", due(&of))];
        events.push(event(of.entry.made_at.0, format!("Assigned: {}", thing(bank, &of)), lines));
        if let Some(withdrawn) = &of.withdrawn {
            let what = format!("No longer assigned: {}", thing(bank, &of));
            events.push(event(withdrawn.at.0, what, vec![withdrawn.reason.clone()]));
        }
    }
    let named = named_trainers::of_person(db, person.id).await?;
    let mut names = BTreeMap::new();
    for trainer in named.iter().filter_map(|named| named.trainer_id) {
        names.insert(trainer, people::by_id(db, trainer).await?.display_name);
    }
    events.extend(named.iter().map(|named| trainer(named, &names)));
    let known = branches::list(db).await?;
    events
        .extend(record::of_subject(db, "person", person.id.0).await?.iter().filter_map(|entry| changed(entry, &known)));
    // Stable: what happened in the same moment stays in the order above.
    events.sort_by_key(|event| event.at);
    let head = record_head(db).await?;
    let context = HistoryPage {
        page: reader.page(&format!("The history of {}", person.display_name), seen.place()),
        branch: known.into_iter().find(|branch| branch.id == person.branch_id).map(|b| b.name).unwrap_or_default(),
        role: person.role.name(),
        back: seen.record(person.id),
        name: person.display_name,
        email: person.email,
        events,
        entries: head.entries,
        hash: head.hash,
        now: app.deeds.clock.now().0,
        zone: zone.clone(),
    };
    reply::page(app, "pages/record/history.html", &context)
}

const fn event(at: i64, what: String, lines: Vec<String>) -> Event {
    Event { at, what, href: None, lines }
}

fn decisions(bank: &Bank, lines: &[DecisionLine], seen: Seen) -> Vec<Event> {
    let mut events = Vec::new();
    for line in lines {
        let scheme = scheme_title(bank, Some(&line.scheme_key));
        let reason = |text: &str| Some(text.to_owned()).filter(|text| !text.is_empty()).into_iter().collect();
        if let Some((verdict, at)) = line.decided {
            let word = match verdict {
                Verdict::Granted => "granted",
                Verdict::Refused => "refused",
            };
            let href = Some(seen.sitting(line.person_id, line.attempt_id));
            events.push(Event { at: at.0, what: format!("{scheme}: {word}"), href, lines: reason(&line.reason) });
        }
        if let Some(at) = line.appealed_at {
            let said = format!("\u{201c}{}\u{201d}", line.appeal);
            let mut lines: Vec<String> = vec![said, format!("Finding: {}.", found(line.finding))];
            lines.extend(reason(&line.finding_reason));
            events.push(event(at.0, format!("{scheme}: appeal"), lines));
        }
    }
    events
}

fn certificates(bank: &Bank, of: &Certification, seen: Seen) -> Vec<Event> {
    let mut events = Vec::new();
    for one in &of.certificates {
        let number = one.number.to_string();
        let scheme = scheme_title(bank, Some(&one.entry.scheme_key));
        let machines: Vec<String> = one.entry.machines.iter().map(|on| machine_name(bank, &on.machine)).collect();
        let lines = vec![scheme, format!("Machines: {}.", machines.join(", "))];
        let href = Some(seen.certificate(&number));
        let what = format!("Certificate {number} issued, record entry {}", one.entry.record_entry_id);
        events.push(Event { at: one.entry.valid_from.0, what, href, lines });
        for kept in &one.events {
            let word = match kept.event.kind {
                EventKind::Suspended => "suspended",
                EventKind::Reinstated => "reinstated",
                EventKind::Withdrawn => "withdrawn",
                EventKind::Renewed => "renewed",
            };
            let what = format!("Certificate {number} {word}, record entry {}", kept.record_entry_id);
            events.push(event(kept.event.at.0, what, vec![kept.reason.clone()]));
        }
    }
    events
}

fn triggers(of: &Certification) -> impl Iterator<Item = Event> + '_ {
    of.triggers.iter().map(|kept| {
        let what = format!("Asks for a refresher: {}", kept.entry.trigger.kind.name());
        event(kept.entry.trigger.at.0, what, vec![kept.entry.text.clone()])
    })
}

fn trainer(named: &Named, names: &BTreeMap<PersonId, String>) -> Event {
    let what = match named.trainer_id {
        Some(id) => format!("Trainer: {}", names.get(&id).map_or("somebody", String::as_str)),
        None => "No longer has a trainer".to_owned(),
    };
    event(named.named_at.0, what, Vec::new())
}

/// A change of role, branch or of the permission to sign in, from its entry in the record.
fn changed(entry: &RecordEntry, known: &[branches::Branch]) -> Option<Event> {
    if entry.deed != "person_changed" {
        return None;
    }
    let detail: serde_json::Value = serde_json::from_str(&entry.detail).ok()?;
    let differs = |what: &str| detail[what]["from"] != detail[what]["to"];
    let mut lines = Vec::new();
    if differs("role") {
        let word = |end: &str| detail["role"][end].as_str().unwrap_or_default().replace('_', " ");
        lines.push(format!("Role: {}, before {}.", word("to"), word("from")));
    }
    if differs("branch") {
        let word = |end: &str| {
            let id = detail["branch"][end].as_i64().unwrap_or_default();
            known.iter().find(|branch| branch.id.0 == id).map_or("another", |branch| branch.name.as_str())
        };
        lines.push(format!("Branch: {}, before {}.", word("to"), word("from")));
    }
    if differs("active") {
        let may = detail["active"]["to"].as_bool().unwrap_or_default();
        lines.push(if may { "May sign in again.".to_owned() } else { "May no longer sign in.".to_owned() });
    }
    Some(event(entry.at.0, "Changed".to_owned(), lines))
}
