//! Reads a template from its text and reports everything that is wrong with it, each with its line.
//!
//! Decides nothing about the model: a template that reads well can still have no right answer.

mod answer;
mod draws;
mod expressions;
mod figure;
mod head;
mod parts;
mod shift;
mod situation;

use super::sheet::{self, Entry, Section};
use super::template::{Let, Lexicon, Template};
use crate::document::{Problem, nearest};

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
        names: Vec::new(),
        asking: Vec::new(),
        earlier: Vec::new(),
        has_shift: false,
        at: 0,
    };
    let template = reader.template(id, &sections);
    reader.problems.sort();
    match template {
        Some(template) if reader.problems.is_empty() => Ok(template),
        _ => Err(reader.problems),
    }
}

struct Reader<'a> {
    file: &'a str,
    lexicon: &'a Lexicon,
    problems: Vec<Problem>,
    /// Values that may be used from here on.
    names: Vec<String>,
    /// Those of them that ask the model.
    asking: Vec<String>,
    /// What the parts before this one worked out.
    earlier: Vec<Let>,
    /// Whether there is a shift whose figures may be used.
    has_shift: bool,
    /// Where the part begins that is being read; 0 in a plain scenario.
    at: u32,
}

impl Reader<'_> {
    fn problem(&mut self, line: u32, field: &str, message: impl Into<String>) {
        self.problems.push(Problem::new(self.file, line, field, message));
    }

    fn template(&mut self, id: &str, sections: &[Section]) -> Option<Template> {
        for section in sections.iter().skip(1) {
            if !SECTIONS.contains(&section.heading.as_str()) {
                let hint = suggestion(&section.heading, SECTIONS);
                self.problem(section.line, &section.field(), format!("there is no such section{hint}"));
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
        let mut problems = Vec::new();
        let entries = section.entries(self.file, &mut problems);
        self.problems.append(&mut problems);
        entries
    }

    /// Reports lines that stand twice where the last one would silently win.
    fn each_once(&mut self, entries: &[Entry]) {
        for (place, entry) in entries.iter().enumerate() {
            if entries[..place].iter().any(|earlier| earlier.name == entry.name) {
                self.problem(entry.line, &entry.name, "this line stands here twice; leave one");
            }
        }
    }
}

fn words(value: &str) -> impl Iterator<Item = &str> {
    value.split(',').map(str::trim).filter(|word| !word.is_empty())
}

fn suggestion<'w>(word: &str, known: impl IntoIterator<Item = &'w str>) -> String {
    nearest(word, known).map(|near| format!("; did you mean \"{near}\"?")).unwrap_or_default()
}
