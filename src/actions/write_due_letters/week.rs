//! The week of a branch for who looks after it: who lapses, who waits for a decision, whose refresher is due, what is overdue.
//!
//! Never due when there is nothing to say.

use super::letter::Says;
use super::{Due, Look};
use crate::actions::assigned::{Has, due_end, progress, thing};
use crate::actions::decide::Decider;
use crate::domain::certification::assignment::Progress;
use crate::domain::certification::certificate::State;
use crate::domain::letters::{EXPIRY_DAYS, Kind, digest_is_due};
use crate::domain::units::Moment;
use crate::mail::digest::{Line, Part};
use crate::store::StoreError;
use crate::store::certificates::Certificate;
use crate::store::read::assigned::Learner;
use crate::store::read::decisions::DecisionLine;
use crate::store::read::service_managers::ServiceManager;
use jiff::{Timestamp, ZonedDateTime, tz::TimeZone};

/// Lines in one part; how many more there are is said below them. Chosen by us.
const LONGEST: usize = 20;

pub(super) fn due_to(look: &Look, manager: &ServiceManager) -> Result<Option<Due>, StoreError> {
    let local = local(look.now, &manager.time_zone)?;
    if !digest_is_due(local.weekday().to_monday_one_offset(), local.hour()) {
        return Ok(None);
    }
    let there: Vec<&Learner> = look.learners.iter().filter(|one| one.branch_id == manager.branch_id).collect();
    let parts =
        [lapsing(look, &there, manager), waiting(look, manager), refreshers(look, &there), overdue(look, &there)?];
    let parts: Vec<Part> = parts.into_iter().filter(|part| !part.lines.is_empty()).collect();
    // Source: ISO 8601 weeks: they begin on Monday, and the first has the year's first Thursday.
    let week = local.date().iso_week_date();
    let about = format!("week {}-W{:02}", week.year(), week.week());
    let due = Due { kind: Kind::Digest, about, threshold: 0, says: Says::Week { parts } };
    Ok(matches!(&due.says, Says::Week { parts } if !parts.is_empty()).then_some(due))
}

fn local(now: Moment, zone: &str) -> Result<ZonedDateTime, StoreError> {
    let fault = |error: jiff::Error| StoreError::Corrupt(format!("the time zone {zone}: {error}"));
    let at = Timestamp::from_microsecond(now.0).map_err(fault)?;
    Ok(at.to_zoned_datetime(TimeZone::get(zone).map_err(fault)?))
}

/// A part of the letter, the earliest in front.
fn part(title: &'static str, when: &'static str, place: String, mut lines: Vec<Line>) -> Part {
    lines.sort_by_key(|line| line.at);
    let more = lines.len().saturating_sub(LONGEST);
    lines.truncate(LONGEST);
    Part { title, when, place, lines, more }
}

fn title_of(look: &Look, key: &str) -> String {
    look.in_use.bank.scheme(key).map_or_else(|| key.to_owned(), |entry| entry.scheme.title.clone())
}

fn lapsing(look: &Look, there: &[&Learner], manager: &ServiceManager) -> Part {
    let before = look.now.plus_seconds(i64::from(EXPIRY_DAYS[0]) * 86_400);
    let mut lines = Vec::new();
    for person in there {
        let soon = |one: &&_| ends_before(person, one, look.now, before);
        for one in person.certification.certificates.iter().filter(soon) {
            let what = title_of(look, &one.entry.scheme_key);
            lines.push(Line { who: person.display_name.clone(), what, at: one.entry.valid_until.0 });
        }
    }
    let place = format!("/qualified/lapsing?days={}&branch={}", EXPIRY_DAYS[0], manager.branch_id);
    part("Certificates that end in the next 60 days", "ends on", place, lines)
}

fn ends_before(person: &Learner, one: &Certificate, now: Moment, before: Moment) -> bool {
    one.entry.valid_until <= before && person.certification.state_of(one, now).stands()
}

fn waiting(look: &Look, manager: &ServiceManager) -> Part {
    let by = Decider { person: manager.person_id, role: manager.role, branch: manager.branch_id };
    let awaited = look.decisions.iter().filter(|line| by.is_awaited(line, look.now));
    let line = |line: &DecisionLine| Line {
        who: line.display_name.clone(),
        what: title_of(look, &line.scheme_key),
        at: line.appealed_at.unwrap_or(line.examined_at).0,
    };
    part("Waits for your decision", "since", "/decisions".to_owned(), awaited.map(line).collect())
}

fn refreshers(look: &Look, there: &[&Learner]) -> Part {
    let mut lines = Vec::new();
    for person in there {
        for one in &person.certification.certificates {
            if let State::RefresherDue { by, .. } = person.certification.state_of(one, look.now) {
                let what = title_of(look, &one.entry.scheme_key);
                lines.push(Line { who: person.display_name.clone(), what, at: by.0 });
            }
        }
    }
    part("Refreshers that are due", "by", "/refreshers".to_owned(), lines)
}

fn overdue(look: &Look, there: &[&Learner]) -> Result<Part, StoreError> {
    let bank = &look.in_use.bank;
    let mut lines = Vec::new();
    for person in there {
        let has = Has { certification: &person.certification, read: &person.read, zone: &person.time_zone };
        for of in look.assigned.iter().filter(|of| of.is_for(person.person_id, person.branch_id, person.role)) {
            if progress(bank, of, has, look.now)? == Progress::Overdue {
                let at = due_end(of, &person.time_zone)?.0 - 1;
                lines.push(Line { who: person.display_name.clone(), what: thing(bank, of), at });
            }
        }
    }
    Ok(part("Overdue assignments", "was due on", "/assignments".to_owned(), lines))
}
