//! What happened, newest first: sittings, talks after a missed safety question, lessons read.
//!
//! Practice is not among it: it decides nothing.

use super::of_person::Seen;
use crate::domain::bank::Bank;
use crate::domain::examination::outcome::Outcome;
use crate::domain::units::plain_number;
use crate::store::attempts::{AttemptKind, AttemptState};
use crate::store::progress::LessonRead;
use crate::store::read::history::{AttemptOfHistory, MandatoryMiss};
use crate::store::{PersonId, StoreError};
use crate::web::dates::day;
use crate::web::error::PageError;
use serde::Serialize;
use std::collections::BTreeMap;

/// One line of the history.
#[derive(Serialize)]
pub(super) struct Event {
    pub(super) at: i64,
    pub(super) what: String,
    /// Where it is shown whole.
    pub(super) href: Option<String>,
    /// More about it, each a sentence.
    pub(super) lines: Vec<String>,
}

/// What the history is made of.
pub(super) struct Happened {
    pub(super) attempts: Vec<AttemptOfHistory>,
    pub(super) misses: Vec<MandatoryMiss>,
    pub(super) holders: BTreeMap<PersonId, String>,
    pub(super) lessons: Vec<LessonRead>,
}

impl Happened {
    /// All of it, newest first. Days are those of the zone.
    pub(super) fn events(&self, bank: &Bank, seen: Seen, zone: &str) -> Result<Vec<Event>, PageError> {
        let mut events = Vec::new();
        for each in self.attempts.iter().filter(|each| each.attempt.kind == AttemptKind::Examination) {
            events.push(self.sitting(bank, each, seen)?);
            events.extend(self.debrief(bank, each, zone)?);
        }
        events.extend(lessons(bank, &self.lessons, zone)?);
        // Stable: of what happened in the same moment, the later stays in front.
        events.sort_by_key(|event| std::cmp::Reverse(event.at));
        Ok(events)
    }

    fn sitting(&self, bank: &Bank, each: &AttemptOfHistory, seen: Seen) -> Result<Event, PageError> {
        let attempt = &each.attempt;
        let title = scheme_title(bank, attempt.scheme_key.as_deref());
        let Some(result) = &each.result else {
            let what = if attempt.state == AttemptState::Open { "under way" } else { "handed in, not graded yet" };
            return Ok(Event {
                at: attempt.started_at.0,
                what: format!("{title}: {what}"),
                href: None,
                lines: Vec::new(),
            });
        };
        let outcome: Outcome = serde_json::from_str(&result.outcome)
            .map_err(|cause| StoreError::Corrupt(format!("attempt_result.outcome: {cause}")))?;
        let mut lines = vec![score(&outcome)];
        let missed = self.misses.iter().filter(|miss| miss.attempt_id == attempt.id);
        lines.extend(missed.map(|miss| {
            let name = competence_name(bank, &miss.competence_key);
            format!("Mandatory safety question {} missed ({name}): \u{201c}{}\u{201d}", miss.position, miss.prompt)
        }));
        if attempt.is_by_the_clock() {
            lines.push("Time ran out; what had been saved by then was graded.".to_owned());
        }
        let passed = if result.passed { "passed" } else { "not passed" };
        Ok(Event {
            at: attempt.submitted_at.unwrap_or(result.graded_at).0,
            what: format!("{title}: {passed}"),
            href: Some(seen.sitting(attempt.person_id, attempt.id)),
            lines,
        })
    }

    fn debrief(&self, bank: &Bank, each: &AttemptOfHistory, zone: &str) -> Result<Option<Event>, PageError> {
        let Some(held) = &each.debrief else { return Ok(None) };
        let by = self.holders.get(&held.trainer_id).map_or("a trainer", String::as_str);
        let title = scheme_title(bank, each.attempt.scheme_key.as_deref());
        let sat = day(each.attempt.submitted_at.unwrap_or(each.attempt.started_at), zone)?;
        let lines = vec![format!("About: {title}, {sat}."), held.note.clone()];
        Ok(Some(Event { at: held.held_at.0, what: format!("Debrief held by {by}"), href: None, lines }))
    }
}

/// One line for each module and day.
fn lessons(bank: &Bank, read: &[LessonRead], zone: &str) -> Result<Vec<Event>, PageError> {
    let mut by_module_and_day: BTreeMap<(&str, String), (i64, Vec<String>)> = BTreeMap::new();
    let mut in_order: Vec<&LessonRead> = read.iter().collect();
    in_order.sort_by_key(|lesson| lesson.read_at.0);
    for lesson in in_order {
        let module = bank.module(&lesson.module_key);
        let known = module.and_then(|module| module.lessons.iter().find(|known| known.id == lesson.lesson_key));
        let title = known.map_or_else(|| lesson.lesson_key.clone(), |known| known.title.clone());
        let day = day(lesson.read_at, zone)?;
        let (last, titles) = by_module_and_day.entry((&lesson.module_key, day)).or_default();
        *last = lesson.read_at.0;
        titles.push(title);
    }
    let event = |((key, _), (at, titles)): ((&str, String), (i64, Vec<String>))| {
        let module = bank.module(key).map_or(key, |module| &module.title);
        let lessons = if titles.len() == 1 { "1 lesson".to_owned() } else { format!("{} lessons", titles.len()) };
        Event { at, what: format!("Read: {module}, {lessons}"), href: None, lines: vec![titles.join("; ")] }
    };
    Ok(by_module_and_day.into_iter().map(event).collect())
}

/// "8 of 9 right (89 %); 75 % are needed."
pub(super) fn score(outcome: &Outcome) -> String {
    let share = plain_number(outcome.score_percent().floor());
    let cut = plain_number(outcome.cut_percent);
    format!("{} of {} right ({share} %); {cut} % are needed.", outcome.earned(), outcome.asked)
}

/// What people call a scheme; its word when the bank no longer has it.
pub(in crate::web::pages) fn scheme_title(bank: &Bank, key: Option<&str>) -> String {
    let key = key.unwrap_or_default();
    bank.scheme(key).map_or_else(|| key.to_owned(), |entry| entry.scheme.title.clone())
}

/// What people call a machine; its word when the bank no longer has it.
pub(super) fn machine_name(bank: &Bank, key: &str) -> String {
    bank.machine(key).map_or_else(|| key.to_owned(), |known| known.profile.name.clone())
}

/// What people call a competence; its word when the bank no longer has it.
pub(in crate::web::pages) fn competence_name(bank: &Bank, key: &str) -> String {
    bank.competence(key).map_or_else(|| key.to_owned(), |known| known.name.clone())
}
