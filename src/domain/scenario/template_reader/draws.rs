//! Reads what changes from question to question, and what is worked out from it: [draw] and [let].

use super::{Reader, STRETCHES, suggestion};
use crate::scenario::limits::{DEEPEST, MOST_CHOICES};
use crate::scenario::passage::Passage;
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
            let expr = self.expression(&entry.value, &entry.name, &entry.value);
            if self.new_name(&entry)
                && let Some(expr) = expr
            {
                let asks_model = self.asks_model(&expr);
                if asks_model {
                    self.asking.insert(entry.name.clone());
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
            || matches!(
                name.as_str(),
                "route" | "band" | "derated" | "yes" | "no" | "machine" | "shift" | "and" | "or" | "not"
            );
        let message = if !well_formed {
            "a name has lower case letters, digits and _, and begins with a letter"
        } else if taken {
            "this word has a meaning of its own; choose another name"
        } else if self.has_name(name) {
            "this name is there already; choose another one"
        } else {
            self.names.insert(name.clone());
            return true;
        };
        self.problem(entry.at, name, message);
        false
    }

    fn draw(&mut self, entry: &Entry) -> Option<Draw> {
        let (line, name) = (&entry.value, entry.name.as_str());
        let draw = self.draw_of(line, name, line, DEEPEST)?;
        if matches!(draw, Draw::Fixed(_)) {
            self.problem(line, name, "this is not drawn, so it belongs to [let]");
            return None;
        }
        Some(draw)
    }

    fn draw_of(&mut self, line: &Passage, name: &str, value: &str, depth: usize) -> Option<Draw> {
        let value = value.trim();
        if let Some(rest) = value.strip_prefix("one of ") {
            return self.one_of(line, name, rest);
        }
        if let Some(rest) = value.strip_prefix("from ") {
            let Some((from, rest)) = rest.split_once(" to ") else {
                self.problem((line, value), name, "write `from A to B step C`");
                return None;
            };
            let Some((to, step)) = rest.split_once(" step ") else {
                self.problem((line, value), name, "write `from A to B step C`; the step is missing");
                return None;
            };
            let (from, to, step) =
                (self.plain(line, name, from), self.plain(line, name, to), self.plain(line, name, step));
            return Some(Draw::Range { from: from?, to: to?, step: step? });
        }
        if let Some(rest) = value.strip_prefix("inside ") {
            return self.inside(line, name, rest);
        }
        if let Some(rest) = value.strip_prefix("if ") {
            return self.depending(line, name, rest, depth);
        }
        if depth == DEEPEST {
            let message =
                "write `from A to B step C`, `inside STRETCH keep K`, `one of A, B, C` or `if A then ... else ...`";
            self.problem(line, name, message);
            return None;
        }
        self.plain(line, name, value).map(Draw::Fixed)
    }

    /// `one of A, B weight 3, C`.
    fn one_of(&mut self, line: &Passage, name: &str, rest: &str) -> Option<Draw> {
        let mut choices = Vec::new();
        let parts = split_outside_quotes(rest);
        if parts.len() > MOST_CHOICES {
            let message = format!("`one of` has {} choices; write at most {MOST_CHOICES}", parts.len());
            self.problem((line, rest), name, message);
            return None;
        }
        for part in parts {
            let (choice, weight) = match part.rsplit_once(" weight ") {
                Some((choice, weight)) => (choice, weight.trim().parse().ok()),
                None => (part, Some(1)),
            };
            let Some(weight @ 1..=100) = weight else {
                self.problem(
                    (line, part),
                    name,
                    "a weight is a whole number from 1 to 100, as in `one of straw weight 3, gravel`",
                );
                return None;
            };
            choices.push((self.plain(line, name, choice)?, weight));
        }
        if choices.len() < 2 {
            self.problem((line, rest), name, "`one of` needs at least two choices, divided by commas");
            return None;
        }
        Some(Draw::OneOf(choices))
    }

    /// `inside STRETCH keep K step S`.
    fn inside(&mut self, line: &Passage, name: &str, rest: &str) -> Option<Draw> {
        let (rest, step) = rest.split_once(" step ").map_or((rest, "1 %"), |(rest, step)| (rest, step));
        let (stretch, keep) = rest.split_once(" keep ").map_or((rest, "1 %"), |(stretch, keep)| (stretch, keep));
        let stretch = stretch.trim();
        if !STRETCHES.contains(&stretch) && !self.lexicon.bands.iter().any(|band| band == stretch) {
            let known = STRETCHES.into_iter().chain(self.lexicon.bands.iter().map(String::as_str));
            let hint = suggestion(stretch, known);
            self.problem((line, stretch), name, format!("there is no stretch or band \"{stretch}\"{hint}"));
            return None;
        }
        let (keep, step) = (self.plain(line, name, keep), self.plain(line, name, step));
        Some(Draw::Inside { stretch: stretch.to_owned(), keep: keep?, step: step? })
    }

    /// `if CONDITION then DRAW else DRAW`; the last may be another `if`.
    fn depending(&mut self, line: &Passage, name: &str, rest: &str, depth: usize) -> Option<Draw> {
        let Some(depth) = depth.checked_sub(1) else {
            self.problem((line, rest), name, format!("this nests more than {DEEPEST} deep; draw less at once"));
            return None;
        };
        let parts = rest.split_once(" then ").and_then(|(condition, rest)| {
            let (then, otherwise) = rest.split_once(" else ")?;
            Some((condition, then, otherwise))
        });
        let Some((condition, then, otherwise)) = parts else {
            self.problem((line, rest), name, "write `if CONDITION then ... else ...`");
            return None;
        };
        let condition = self.plain(line, name, condition);
        let then = self.draw_of(line, name, then, depth);
        let otherwise = self.draw_of(line, name, otherwise, depth);
        Some(Draw::If { condition: condition?, then: Box::new(then?), otherwise: Box::new(otherwise?) })
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
