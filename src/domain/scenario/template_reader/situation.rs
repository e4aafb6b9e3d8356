//! Reads the moment that is asked about, and how it is told: [situation], [only if], [story], [question].

use super::{Reader, suggestion};
use crate::scenario::language::{Expr, Text};
use crate::scenario::sheet::Section;
use crate::scenario::template::Located;
use crate::scenario::vocabulary::Field;

impl Reader<'_> {
    pub(super) fn situation(&mut self, sections: &[Section]) -> Vec<Located<(Field, Expr)>> {
        let mut set: Vec<Located<(Field, Expr)>> = Vec::new();
        for entry in self.entries(sections, "situation") {
            let Some(field) = Field::find(&entry.name) else {
                let hint = suggestion(&entry.name, Field::all().map(|field| field.word));
                self.problem(entry.line, &entry.name, format!("there is no such reading{hint}"));
                continue;
            };
            if set.iter().any(|earlier| earlier.what.0 == *field) {
                self.problem(entry.line, &entry.name, "this reading is set twice");
            }
            if let Some(expr) = self.plain(entry.line, &entry.name, &entry.value) {
                set.push(Located { line: entry.line, what: (*field, expr) });
            }
        }
        set
    }

    pub(super) fn conditions(&mut self, sections: &[Section]) -> Vec<Located<Expr>> {
        let Some(section) = sections.iter().find(|section| section.heading == "only if") else { return Vec::new() };
        let mut conditions = Vec::new();
        for (line, text) in section.lines.iter().filter(|(_, text)| !text.trim().is_empty()) {
            if let Some(what) = self.expression(*line, "[only if]", text) {
                conditions.push(Located { line: *line, what });
            }
        }
        conditions
    }

    pub(super) fn texts(&mut self, sections: &[Section], heading: &str) -> Vec<Located<Text>> {
        let Some(section) = sections.iter().find(|section| section.heading == heading) else {
            self.problem(self.at, &format!("[{heading}]"), "this section is missing");
            return Vec::new();
        };
        let paragraphs = section.paragraphs();
        if paragraphs.is_empty() {
            self.problem(section.line, &section.field(), "this section is empty");
        }
        if heading == "question" && paragraphs.len() > 1 {
            self.problem(
                section.line,
                &section.field(),
                "the question is one paragraph; the rest belongs to the [story]",
            );
        }
        let mut texts = Vec::new();
        for (line, text) in paragraphs {
            if let Some(what) = self.text(line, &section.field(), &text) {
                texts.push(Located { line, what });
            }
        }
        texts
    }
}
