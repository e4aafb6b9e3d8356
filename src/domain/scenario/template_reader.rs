//! Reads a template from its text and reports everything that is wrong with it, each with its line.
//!
//! Decides nothing about the model: a template that reads well can still have no right answer.

mod answer;
mod definitions;
mod draws;
mod expressions;
mod figure;
mod head;
mod parts;
mod shift;
mod situation;

use super::limits::{MOST_CHOICES, MOST_LINES};
use super::passage::Passage;
use super::sheet::{self, Entry, Section};
use super::template::{Let, Lexicon, Template};
use crate::document::{MOST_FINDINGS, Place, Problem, nearest, told};
use definitions::Definitions;
use std::collections::BTreeSet;

const SECTIONS: [&str; 11] =
    ["hint", "draw", "let", "situation", "shift", "only if", "story", "question", "answer", "option", "part"];
/// Stretches of soot load that every machine has.
pub(super) const STRETCHES: [&str; 5] = ["work", "watch", "active", "parked", "stop"];

pub(super) fn read(id: &str, file: &str, text: &str, lexicon: &Lexicon) -> Result<Template, Vec<Problem>> {
    let mut problems = Vec::new();
    let sections = sheet::cut(file, text, &mut problems);
    let mut reader = Reader {
        file,
        lexicon,
        problems,
        untold: 0,
        definitions: Definitions::of(&sections),
        names: BTreeSet::new(),
        asking: BTreeSet::new(),
        earlier: Vec::new(),
        has_shift: false,
        at: 0,
    };
    let template = reader.template(id, &sections);
    match template {
        Some(template) if reader.problems.is_empty() => Ok(template),
        _ => Err(told(file, reader.problems, reader.untold)),
    }
}

struct Reader<'a> {
    file: &'a str,
    lexicon: &'a Lexicon,
    problems: Vec<Problem>,
    /// Problems beyond the most that are told.
    untold: usize,
    /// Every value that stands anywhere in the scenario.
    definitions: Definitions,
    /// Values that may be used from here on.
    names: BTreeSet<String>,
    /// Those of them that ask the model.
    asking: BTreeSet<String>,
    /// What the parts before this one worked out.
    earlier: Vec<Let>,
    /// Whether there is a shift whose figures may be used.
    has_shift: bool,
    /// Where the part begins that is being read; 0 in a plain scenario.
    at: u32,
}

impl Reader<'_> {
    /// Notes a problem at a line, at a place, or at a part of a passage.
    fn problem(&mut self, at: impl Into<Place>, field: &str, message: impl Into<String>) {
        if self.full() {
            self.untold += 1;
        } else {
            self.problems.push(Problem::new(self.file, at, field, message));
        }
    }

    /// Whether no more problems are told, so that nobody looks for what was meant.
    fn full(&self) -> bool {
        self.problems.len() >= MOST_FINDINGS
    }

    /// The first of some parts of a section; a problem when there are more.
    fn bounded<'p, T>(&mut self, section: &Section, what: &str, parts: &'p [T], most: usize) -> &'p [T] {
        if parts.len() > most {
            let message = format!("there are {} {what} here; write at most {most}", parts.len());
            self.problem(section.at, &section.field(), message);
        }
        &parts[..parts.len().min(most)]
    }

    /// Words divided by commas; a problem when there are too many.
    fn words<'p>(&mut self, field: &str, value: &'p Passage) -> Vec<&'p str> {
        let mut words: Vec<&str> = value.split(',').map(str::trim).filter(|word| !word.is_empty()).collect();
        if words.len() > MOST_CHOICES {
            let message = format!("there are {} words here; write at most {MOST_CHOICES}", words.len());
            self.problem(value, field, message);
            words.truncate(MOST_CHOICES);
        }
        words
    }

    fn has_name(&self, name: &str) -> bool {
        self.names.contains(name)
    }

    fn template(&mut self, id: &str, sections: &[Section]) -> Option<Template> {
        for section in sections.iter().skip(1) {
            if !SECTIONS.contains(&section.heading.as_str()) {
                let hint = suggestion(&section.heading, SECTIONS);
                self.problem(section.at, &section.field(), format!("there is no such section{hint}"));
            }
        }
        let head = self.head(sections.first()?);
        let rules = self.lexicon.competences.iter().find(|rules| rules.id == head.competence);
        let draws = self.draws(sections);
        let parts = if head.is_case {
            self.parts(sections, &head.beside)
        } else {
            self.only_part(sections, head.kind, head.beside)
        };
        Some(Template {
            id: id.to_owned(),
            title: head.title,
            mandatory: rules.is_some_and(|rules| rules.mandatory),
            reading_grade: rules.map_or(0, |rules| rules.reading_grade),
            competence: head.competence,
            level: head.level,
            machines: head.machines,
            guard_percent: head.guard,
            edges: head.edges,
            draws,
            parts: parts?,
        })
    }

    fn entries(&mut self, sections: &[Section], heading: &str) -> Vec<Entry> {
        let Some(section) = sections.iter().find(|section| section.heading == heading) else { return Vec::new() };
        self.entries_of(section)
    }

    fn entries_of(&mut self, section: &Section) -> Vec<Entry> {
        let mut found = Vec::new();
        let mut entries = section.entries(self.file, &mut found);
        for Problem { line, column, field, message, .. } in found {
            self.problem(Place { line, column }, &field, message);
        }
        let most = self.bounded(section, "lines", &entries, MOST_LINES).len();
        entries.truncate(most);
        entries
    }

    /// Reports lines that stand twice where the last one would silently win.
    fn each_once(&mut self, entries: &[Entry]) {
        let mut seen = BTreeSet::new();
        for entry in entries {
            if !seen.insert(&entry.name) {
                self.problem(entry.at, &entry.name, "this line stands here twice; leave one");
            }
        }
    }
}

impl From<(&Passage, &str)> for Place {
    /// A part of a passage.
    fn from((passage, part): (&Passage, &str)) -> Self {
        passage.place_of(part)
    }
}

fn suggestion<'w>(word: &str, known: impl IntoIterator<Item = &'w str>) -> String {
    nearest(word, known).map(|near| format!("; did you mean \"{near}\"?")).unwrap_or_default()
}
