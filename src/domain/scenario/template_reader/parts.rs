//! Reads the questions of a scenario: the only one of a plain scenario, or every [part] of a case.
//!
//! Never lets a part see what only a later one says.

use super::{Reader, suggestion};
use crate::document::Place;
use crate::scenario::question::Kind;
use crate::scenario::sheet::{Entry, Section};
use crate::scenario::template::{Beside, Part};
use std::collections::BTreeSet;
use std::ops::RangeInclusive;

/// How many parts a case may have; chosen by us: with one it is no case, and more than five is a story to get lost in.
const PARTS: RangeInclusive<usize> = 2..=5;

/// The lines of a case, cut where its parts begin.
struct Cut<'s> {
    beginning: &'s [Section],
    parts: Vec<&'s [Section]>,
}

impl<'s> Cut<'s> {
    fn of(sections: &'s [Section]) -> Self {
        let is_part = |section: &Section| section.heading == "part";
        let first = sections.iter().position(is_part).unwrap_or(sections.len());
        let (beginning, mut rest) = sections.split_at(first);
        let mut parts = Vec::new();
        while !rest.is_empty() {
            let end = rest.iter().skip(1).position(is_part).map_or(rest.len(), |after| after + 1);
            let (part, others) = rest.split_at(end);
            parts.push(part);
            rest = others;
        }
        Self { beginning, parts }
    }
}

impl Reader<'_> {
    /// The one question of a plain scenario.
    pub(super) fn only_part(&mut self, sections: &[Section], kind: Option<Kind>, beside: Beside) -> Option<Vec<Part>> {
        if let Some(part) = sections.iter().find(|section| section.heading == "part") {
            self.problem(part.at, "[part]", "only a case has parts; write `kind: case` in the head");
        }
        self.each_section_once(sections);
        self.part(sections, kind, beside).map(|part| vec![part])
    }

    /// Every question of a case, in order.
    pub(super) fn parts(&mut self, sections: &[Section], shared: &Beside) -> Option<Vec<Part>> {
        let cut = Cut::of(sections);
        if !PARTS.contains(&cut.parts.len()) {
            let at = cut.parts.last().and_then(|part| part.first()).map_or(Place::line(1), |part| part.at);
            let (least, most) = (PARTS.start(), PARTS.end());
            let message = format!("a case has {least} to {most} parts; this one has {}", cut.parts.len());
            self.problem(at, "[part]", message);
        }
        self.each_section_once(cut.beginning);
        self.not_here(cut.beginning, &["question", "hint", "answer", "option"], "this belongs to a [part] of the case");
        let mut parts = Vec::new();
        for (place, own) in cut.parts.iter().enumerate() {
            let (head, own) = own.split_first()?;
            self.each_section_once(own);
            self.not_here(own, &["draw"], "a case draws once, at its beginning; write this above the first [part]");
            self.at = head.line;
            let (kind, beside) = self.part_head(head, shared);
            let part = if place == 0 {
                let above = "the first part is asked at the beginning of the case; write this above it";
                self.not_here(own, &["situation", "shift"], above);
                self.part(&joined(cut.beginning, own), kind, beside)
            } else {
                self.part(own, kind, beside)
            };
            parts.push(part);
        }
        parts.into_iter().collect()
    }

    /// The lines right under `[part]`; what they leave out is as in the head of the case.
    fn part_head(&mut self, head: &Section, shared: &Beside) -> (Option<Kind>, Beside) {
        let entries = self.entries_of(head);
        self.each_once(&entries);
        let (mut kind, mut beside) = (None, shared.clone());
        if entries.iter().any(|entry| entry.name == "figure") {
            beside.figures.clear();
        }
        for Entry { at, name, value, .. } in &entries {
            match name.as_str() {
                "kind" => {
                    kind = Kind::from_words(value);
                    if kind.is_none() {
                        let kinds = "choose one, choose several, put in order, number or lamp panel";
                        let hint = suggestion(value, Kind::ALL.map(Kind::words));
                        let message = format!("a part is a question of its own; its kind is {kinds}{hint}");
                        self.problem(value, name, message);
                    }
                }
                "show" => self.show(&mut beside, value),
                "figure" => self.figure(&mut beside, value),
                _ => {
                    let hint = suggestion(name, ["kind", "show", "figure"]);
                    let message =
                        format!("there is no such line in [part]; it has `kind:`, `show:` and `figure:`{hint}");
                    self.problem(*at, name, message);
                }
            }
        }
        if !entries.iter().any(|entry| entry.name == "kind") {
            self.problem(head.at, "kind", "the part needs a line `kind: ...`");
        }
        (kind, beside)
    }

    /// One question; everything but its answer is read also where its kind is not known, so that all that is wrong is told at once.
    fn part(&mut self, sections: &[Section], kind: Option<Kind>, beside: Beside) -> Option<Part> {
        // What a part before asked of the model is settled: here it is a value like any other.
        self.asking.clear();
        self.has_shift |= sections.iter().any(|section| section.heading == "shift");
        let lets = self.lets(sections);
        let situation = self.situation(sections);
        let shift = self.shift(sections);
        let conditions = self.conditions(sections);
        let story = self.texts(sections, "story");
        let question = self.texts(sections, "question").into_iter().next();
        let hinted = sections.iter().any(|section| section.heading == "hint");
        let hints = if hinted { self.texts(sections, "hint") } else { Vec::new() };
        let answer = kind.and_then(|kind| self.answer(sections, kind));
        if let Some(answer) = &answer {
            self.figures_fit(&beside, sections, (&shift, &lets), answer);
        }
        self.earlier.extend(lets.iter().cloned());
        let (kind, question, answer) = (kind?, question?, answer?);
        Some(Part { kind, beside, lets, situation, shift, conditions, story, question, hints, answer })
    }

    fn each_section_once(&mut self, sections: &[Section]) {
        let mut repeated = BTreeSet::new();
        for section in sections.iter().filter(|section| !matches!(section.heading.as_str(), "option" | "part")) {
            if !repeated.insert(section.heading.as_str()) {
                self.problem(section.at, &section.field(), "this section stands twice; put its lines into one");
            }
        }
    }

    fn not_here(&mut self, sections: &[Section], headings: &[&str], message: &str) {
        for section in sections.iter().filter(|section| headings.contains(&section.heading.as_str())) {
            self.problem(section.at, &section.field(), message);
        }
    }
}

/// The beginning of a case and its first part as one: what both have is read one after the other.
fn joined(beginning: &[Section], first: &[Section]) -> Vec<Section> {
    let mut joined = beginning.to_vec();
    for section in first {
        match joined.iter_mut().find(|above| above.heading == section.heading && section.heading != "option") {
            Some(above) => {
                above.lines.push((section.line, String::new()));
                above.lines.extend(section.lines.iter().cloned());
            }
            None => joined.push(section.clone()),
        }
    }
    joined
}
