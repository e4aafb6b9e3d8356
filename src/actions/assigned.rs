//! How far somebody is with an assignment: from their certificates and the lessons that they have read.
//!
//! Never takes anybody's word for it, and never writes anything.

use crate::domain::bank::Bank;
use crate::domain::certification::assignment::{Held, Kind, Progress};
use crate::domain::certification::certificate::State;
use crate::domain::units::Moment;
use crate::store::StoreError;
use crate::store::assignments::Assignment;
use crate::store::read::certification::Certification;
use jiff::{civil::Date, tz::TimeZone};
use std::collections::BTreeSet;

/// What somebody has done, and in which zone their days end.
#[derive(Clone, Copy, Debug)]
pub struct Has<'a> {
    /// Their certificates.
    pub certification: &'a Certification,
    /// The lessons that they have read, as module and lesson.
    pub read: &'a BTreeSet<(String, String)>,
    /// The IANA time zone of their branch.
    pub zone: &'a str,
}

/// How far they are at a moment.
///
/// # Errors
/// [`StoreError::Corrupt`] when the kept day or time zone is none.
pub fn progress(bank: &Bank, of: &Assignment, has: Has<'_>, now: Moment) -> Result<Progress, StoreError> {
    let due_end = due_end(of, has.zone)?;
    let done = match of.entry.kind {
        Kind::Scheme => holds(of, has.certification, due_end, now),
        Kind::Module => bank.module(&of.entry.thing_key).is_some_and(|module| {
            let mut lessons = module.lessons.iter();
            lessons.all(|lesson| has.read.contains(&(module.id.clone(), lesson.id.clone())))
        }),
    };
    Ok(Progress::of(done, due_end, now))
}

fn holds(of: &Assignment, certification: &Certification, due_end: Moment, now: Moment) -> bool {
    let on_the_day = Moment(due_end.0.saturating_sub(1)).min(now);
    let known = certification.as_of(on_the_day);
    certification.certificates.iter().filter(|one| one.entry.scheme_key == of.entry.thing_key).any(|one| {
        let then = known.certificates.iter().find(|then| then.id == one.id);
        let held = Held {
            examined_at: one.entry.examined_at,
            valid_until: one.entry.valid_until,
            stood: then.is_some_and(|then| known.state_of(then, on_the_day).stands()),
            withdrawn: matches!(certification.state_of(one, now), State::Withdrawn { .. }),
        };
        held.does(of.entry.made_at, due_end)
    })
}

/// The first moment after the day by which it is to be done, in a time zone.
///
/// # Errors
/// [`StoreError::Corrupt`] when the kept day or time zone is none.
pub fn due_end(of: &Assignment, zone: &str) -> Result<Moment, StoreError> {
    let day = &of.entry.due_day;
    let fault = |error: jiff::Error| StoreError::Corrupt(format!("assignment {}, {day} in {zone}: {error}", of.id));
    let next = day.parse::<Date>().and_then(Date::tomorrow).map_err(fault)?;
    let start = TimeZone::get(zone).and_then(|zone| next.to_zoned_datetime(zone)).map_err(fault)?;
    Ok(Moment(start.timestamp().as_microsecond()))
}

/// What is to be done, in words.
#[must_use]
pub fn thing(bank: &Bank, of: &Assignment) -> String {
    let key = &of.entry.thing_key;
    let title = match of.entry.kind {
        Kind::Scheme => bank.scheme(key).map(|entry| format!("Certificate \"{}\"", entry.scheme.title)),
        Kind::Module => bank.module(key).map(|module| format!("Module \"{}\"", module.title)),
    };
    title.unwrap_or_else(|| format!("{} {key}, which is no longer in the bank", of.entry.kind.id()))
}

/// Where the person does it.
#[must_use]
pub fn place(of: &Assignment) -> String {
    match of.entry.kind {
        Kind::Scheme => "/examine".to_owned(),
        Kind::Module => format!("/learn/{}", of.entry.thing_key),
    }
}
