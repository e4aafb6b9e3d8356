//! Reads what changes from question to question, and what is worked out from it: [draw] and [let].

use super::{Reader, STRETCHES, suggestion};
use crate::scenario::language::Expr;
use crate::scenario::sheet::{Entry, Section};
use crate::scenario::template::{Draw, Let, Located};
use crate::scenario::vocabulary::is_word;

impl Reader<'_> {
    pub(super) fn draws(&mut self, sections: &[Section]) -> Vec<Located<(String, Draw)>> {
        let mut draws = Vec::new();
        for entry in self.entries(sections, "draw") {
            let draw = self.draw(&entry);
            if self.new_name(&entry)
                && let Some(draw) = draw
            {
                draws.push(Located { line: entry.line, what: (entry.name, draw) });
            }
        }
        draws
    }

    pub(super) fn lets(&mut self, sections: &[Section]) -> Vec<Let> {
        let mut lets = Vec::new();
        for entry in self.entries(sections, "let") {
            let expr = self.expression(entry.line, &entry.name, &entry.value);
            if self.new_name(&entry)
                && let Some(expr) = expr
            {
                let asks_model = self.asks_model(&expr);
                if asks_model {
                    self.asking.push(entry.name.clone());
                }
                lets.push(Let { line: entry.line, name: entry.name, expr, asks_model });
            }
        }
        lets
    }

    /// Takes a name into use; false when it cannot be.
    fn new_name(&mut self, entry: &Entry) -> bool {
        let name = &entry.name;
        let well_formed = name.starts_with(|c: char| c.is_ascii_lowercase())
            && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
        let taken = is_word(name)
            || matches!(name.as_str(), "route" | "band" | "derated" | "yes" | "no" | "machine" | "and" | "or" | "not");
        let message = if !well_formed {
            "a name has lower case letters, digits and _, and begins with a letter"
        } else if taken {
            "this word has a meaning of its own; choose another name"
        } else if self.names.contains(name) {
            "this name is there already; choose another one"
        } else {
            self.names.push(name.clone());
            return true;
        };
        self.problem(entry.line, name, message);
        false
    }

    fn draw(&mut self, entry: &Entry) -> Option<Draw> {
        let (line, name, value) = (entry.line, entry.name.as_str(), entry.value.as_str());
        if let Some(rest) = value.strip_prefix("one of ") {
            let choices: Vec<Expr> = split_outside_quotes(rest)
                .into_iter()
                .map(|part| self.plain(line, name, part))
                .collect::<Option<_>>()?;
            if choices.len() < 2 {
                self.problem(line, name, "`one of` needs at least two choices, divided by commas");
                return None;
            }
            return Some(Draw::OneOf(choices));
        }
        if let Some(rest) = value.strip_prefix("from ") {
            let Some((from, rest)) = rest.split_once(" to ") else {
                self.problem(line, name, "write `from A to B step C`");
                return None;
            };
            let Some((to, step)) = rest.split_once(" step ") else {
                self.problem(line, name, "write `from A to B step C`; the step is missing");
                return None;
            };
            let (from, to, step) =
                (self.plain(line, name, from), self.plain(line, name, to), self.plain(line, name, step));
            return Some(Draw::Range { from: from?, to: to?, step: step? });
        }
        if let Some(rest) = value.strip_prefix("inside ") {
            let (rest, step) = rest.split_once(" step ").map_or((rest, "1 %"), |(rest, step)| (rest, step));
            let (stretch, keep) = rest.split_once(" keep ").map_or((rest, "1 %"), |(stretch, keep)| (stretch, keep));
            let stretch = stretch.trim();
            if !STRETCHES.contains(&stretch) && !self.lexicon.bands.iter().any(|band| band == stretch) {
                let hint =
                    suggestion(stretch, STRETCHES.into_iter().chain(self.lexicon.bands.iter().map(String::as_str)));
                self.problem(line, name, format!("there is no stretch or band \"{stretch}\"{hint}"));
                return None;
            }
            let (keep, step) = (self.plain(line, name, keep), self.plain(line, name, step));
            return Some(Draw::Inside { stretch: stretch.to_owned(), keep: keep?, step: step? });
        }
        self.problem(line, name, "write `from A to B step C`, `inside STRETCH keep K` or `one of A, B, C`");
        None
    }
}

fn split_outside_quotes(text: &str) -> Vec<&str> {
    let mut quoted = false;
    text.split(move |letter| {
        quoted ^= letter == '"';
        letter == ',' && !quoted
    })
    .map(str::trim)
    .collect()
}
