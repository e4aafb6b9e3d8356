//! How far somebody is with an assignment: from their certificates and the lessons that they have read.

use crate::domain::bank::Bank;
use crate::domain::certification::assignment::{Held, Kind, Progress};
use crate::domain::certification::certificate::State;
use crate::domain::units::Moment;
use crate::store::assignments::Assignment;
use crate::store::read::certification::Certification;
use crate::web::dates::{day_in_words, read_day, span_of};
use crate::web::error::PageError;
use std::collections::BTreeSet;

/// What somebody has done, and in which zone their days end.
#[derive(Clone, Copy)]
pub(in crate::web::pages) struct Has<'a> {
    pub(in crate::web::pages) certification: &'a Certification,
    pub(in crate::web::pages) read: &'a BTreeSet<(String, String)>,
    pub(in crate::web::pages) zone: &'a str,
}

/// How far they are at a moment.
pub(in crate::web::pages) fn progress(
    bank: &Bank,
    of: &Assignment,
    has: Has<'_>,
    now: Moment,
) -> Result<Progress, PageError> {
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

/// The end of the day by which it is to be done.
fn due_end(of: &Assignment, zone: &str) -> Result<Moment, PageError> {
    let day = read_day(&of.entry.due_day);
    let day = day.ok_or_else(|| PageError::Fault(format!("assignment {} is due on no day", of.id)))?;
    Ok(span_of(day, zone)?.1)
}

/// The day by which it is to be done, in words.
pub(in crate::web::pages) fn due(of: &Assignment) -> String {
    read_day(&of.entry.due_day).map_or_else(|| of.entry.due_day.clone(), day_in_words)
}

/// What is to be done, in words.
pub(in crate::web::pages) fn thing(bank: &Bank, of: &Assignment) -> String {
    let key = &of.entry.thing_key;
    let title = match of.entry.kind {
        Kind::Scheme => bank.scheme(key).map(|entry| format!("Certificate \"{}\"", entry.scheme.title)),
        Kind::Module => bank.module(key).map(|module| format!("Module \"{}\"", module.title)),
    };
    title.unwrap_or_else(|| format!("{} {key}, which is no longer in the bank", of.entry.kind.id()))
}

/// Where the person does it.
pub(in crate::web::pages) fn place(of: &Assignment) -> String {
    match of.entry.kind {
        Kind::Scheme => "/examine".to_owned(),
        Kind::Module => format!("/learn/{}", of.entry.thing_key),
    }
}
