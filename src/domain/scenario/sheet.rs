//! Cuts a template's text into its head and sections, with line numbers. Understands no word of what they say.

use super::limits::{LARGEST, MOST_SECTIONS};
use super::passage::{Passage, place_in};
use crate::document::{Place, Problem};

/// A line `name: value` or `name = value`; lines that begin with a blank continue it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Entry {
    pub line: u32,
    /// Where its name stands.
    pub at: Place,
    pub name: String,
    pub value: Passage,
}

/// A stretch of the text under one heading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Section {
    pub line: u32,
    /// Where its heading stands.
    pub at: Place,
    pub heading: String,
    /// Its lines as they stand, remarks and blank lines at the ends left out.
    pub lines: Vec<(u32, String)>,
}

impl Section {
    /// Its lines as entries; whatever is not one is a problem.
    pub(super) fn entries(&self, file: &str, problems: &mut Vec<Problem>) -> Vec<Entry> {
        let mut entries: Vec<Entry> = Vec::new();
        for (line, text) in &self.lines {
            if text.trim().is_empty() {
                continue;
            }
            let continues = text.starts_with([' ', '\t']);
            if let (true, Some(last)) = (continues, entries.last_mut()) {
                last.value.goes_on(*line, text, text.trim());
            } else if let Some(at) = text.find([':', '=']) {
                let name = text[..at].trim();
                let value = Passage::of_line(*line, text, text[at + 1..].trim());
                let at = place_in(*line, text, name);
                entries.push(Entry { line: *line, at, name: name.to_lowercase(), value });
            } else {
                let message = format!("\"{}\" is not understood; write `name: value` or `name = value`", shorten(text));
                problems.push(Problem::new(file, place_in(*line, text, text.trim()), self.field(), message));
            }
        }
        entries
    }

    /// Its text as paragraphs.
    pub(super) fn paragraphs(&self) -> Vec<Passage> {
        let mut paragraphs: Vec<Passage> = Vec::new();
        let mut open = false;
        for (line, text) in &self.lines {
            let said = text.trim();
            match (said.is_empty(), open, paragraphs.last_mut()) {
                (true, _, _) => open = false,
                (false, true, Some(paragraph)) => paragraph.goes_on(*line, text, said),
                (false, _, _) => {
                    paragraphs.push(Passage::of_line(*line, text, said));
                    open = true;
                }
            }
        }
        paragraphs
    }

    pub(super) fn field(&self) -> String {
        if self.heading.is_empty() { "head".to_owned() } else { format!("[{}]", self.heading) }
    }
}

/// Cuts the text. The first section is the head.
pub(super) fn cut(file: &str, text: &str, problems: &mut Vec<Problem>) -> Vec<Section> {
    if text.len() > LARGEST {
        problems.push(Problem::new(
            file,
            0,
            "file",
            format!("a scenario is at most {LARGEST} bytes; this has {}", text.len()),
        ));
        return Vec::new();
    }
    let mut sections = vec![Section { line: 1, at: Place::line(1), heading: String::new(), lines: Vec::new() }];
    for (line, text) in (1..).zip(text.lines()) {
        let trimmed = text.trim();
        if trimmed.starts_with('#') {
            continue;
        }
        if let Some(heading) = trimmed.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')) {
            let at = place_in(line, text, heading.trim());
            if sections.len() > MOST_SECTIONS {
                let message = format!("a scenario has at most {MOST_SECTIONS} sections; the rest was not read");
                problems.push(Problem::new(file, at, format!("[{}]", shorten(heading)), message));
                break;
            }
            sections.push(Section { line, at, heading: heading.trim().to_lowercase(), lines: Vec::new() });
        } else if let Some(section) = sections.last_mut() {
            section.lines.push((line, text.to_owned()));
        }
    }
    sections
}

/// The first words of a line, for a message.
pub(super) fn shorten(text: &str) -> String {
    let text = text.trim();
    if text.chars().count() <= 40 { text.to_owned() } else { text.chars().take(40).chain("...".chars()).collect() }
}
