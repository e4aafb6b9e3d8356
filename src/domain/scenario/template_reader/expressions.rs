//! Reads expressions and filled-in text, and finds out which of them ask the model.

use super::{Reader, suggestion};
use crate::scenario::language::{Expr, Function, Text, names, parse};
use crate::scenario::passage::Passage;
use crate::scenario::shift;
use crate::scenario::template::Let;
use crate::scenario::vocabulary::{FIGURES, is_word, model_words};

impl Reader<'_> {
    pub(super) fn text(&mut self, field: &str, text: &Passage) -> Option<Text> {
        if self.left_open(text, field, text) {
            return None;
        }
        match Text::read_placed(text) {
            Ok((read, places)) => {
                let mut known = true;
                for (expr, place) in read.expressions().zip(places) {
                    known &= self.names_known(text, field, &text[place], expr);
                }
                known.then_some(read)
            }
            Err(misread) => {
                self.problem(text.place_at(misread.at), field, misread.to_string());
                None
            }
        }
    }

    /// An expression that may ask the model; `text` is the part of a line that it stands in.
    pub(super) fn expression(&mut self, line: &Passage, field: &str, text: &str) -> Option<Expr> {
        if self.left_open(line, field, text) {
            return None;
        }
        match parse(text) {
            Ok(expr) => self.names_known(line, field, text, &expr).then_some(expr),
            Err(misread) => {
                let rest = text.get(misread.at..).unwrap_or_default();
                self.problem((line, rest), field, misread.to_string());
                None
            }
        }
    }

    /// Whether a line is still open, as in a draft that somebody has to finish.
    pub(super) fn left_open(&mut self, line: &Passage, field: &str, text: &str) -> bool {
        let open = text.trim().is_empty();
        if open {
            let message = "this is left open, so the scenario is not finished; write it behind the name";
            self.problem((line, text), field, message);
        }
        open
    }

    /// An expression that must not ask the model, because there is no situation yet.
    pub(super) fn plain(&mut self, line: &Passage, field: &str, text: &str) -> Option<Expr> {
        let text = text.trim();
        let expr = self.expression(line, field, text)?;
        if self.asks_model(&expr) {
            let message = "the model cannot be asked here, because the situation is not there yet";
            self.problem((line, text), field, message);
            return None;
        }
        Some(expr)
    }

    pub(super) fn asks_model(&self, expr: &Expr) -> bool {
        let mut asks = false;
        expr.walk(&mut |inner| {
            asks |= match inner {
                Expr::Call(function, _) => function.asks_model(),
                Expr::Shift(_) => true,
                Expr::Name(name) => matches!(name.as_str(), "route" | "band" | "derated") || self.asking.contains(name),
                _ => false,
            };
        });
        asks
    }

    /// Whether an expression asks the model or the machine, as every key must.
    pub(super) fn asks_model_or_machine(&self, expr: &Expr, lets: &[Let]) -> bool {
        let mut asks = self.asks_model(expr);
        expr.walk(&mut |inner| {
            asks |= match inner {
                Expr::Machine(_) => true,
                Expr::Name(name) => {
                    lets.iter().any(|earlier| earlier.name == *name && self.asks_model_or_machine(&earlier.expr, &[]))
                }
                _ => false,
            };
        });
        asks
    }

    /// Whether every name of an expression is there; `text` is what it was read from.
    fn names_known(&mut self, line: &Passage, field: &str, text: &str, expr: &Expr) -> bool {
        let mut unknown: Vec<(&str, bool, String)> = Vec::new();
        expr.walk(&mut |inner| {
            let (name, figure, message) = match inner {
                Expr::Name(name) => (name.as_str(), false, self.unknown_name(name, field)),
                Expr::Machine(name) => (name.as_str(), true, unknown_figure("machine", name, FIGURES)),
                Expr::Shift(name) if self.has_shift => {
                    (name.as_str(), true, unknown_figure("shift", name, shift::FIGURES))
                }
                Expr::Shift(name) => (name.as_str(), true, Some(NO_SHIFT.to_owned())),
                Expr::Call(Function::SootAt, _) if !self.has_shift => ("soot_at", false, Some(NO_SHIFT.to_owned())),
                Expr::Call(Function::OutletAt, _) if !self.has_shift => ("outlet_at", false, Some(NO_SHIFT.to_owned())),
                _ => return,
            };
            // A name that stands there twice is missing once.
            if let Some(message) = message
                && !unknown.iter().any(|(other, behind, _)| (*other, *behind) == (name, figure))
            {
                unknown.push((name, figure, message));
            }
        });
        for (name, figure, message) in &unknown {
            let found = names(text).find(|found| found.name == *name && found.figure == *figure);
            let rest = found.and_then(|found| text.get(found.at..)).unwrap_or(text);
            self.problem((line, rest), field, message.clone());
        }
        unknown.is_empty()
    }

    /// What to say of a name that is not there.
    fn unknown_name(&self, name: &str, field: &str) -> Option<String> {
        let special = SPECIAL.contains(&name);
        if special || self.lexicon.bands.iter().any(|band| band == name) || is_word(name) || self.has_name(name) {
            return None;
        }
        if self.full() {
            return Some(String::new());
        }
        let later = self.definitions.of_later(field, name);
        Some(later.unwrap_or_else(|| {
            let mut known: Vec<&str> = model_words().chain(SPECIAL).collect();
            known.extend(self.names.iter().chain(&self.lexicon.bands).map(String::as_str));
            let hint = suggestion(name, known);
            format!("there is no value or word \"{name}\"{hint}")
        }))
    }
}

const NO_SHIFT: &str = "there is no section [shift] to ask about";
/// Names that stand for what the model says, and for yes and no.
const SPECIAL: [&str; 5] = ["route", "band", "derated", "yes", "no"];

fn unknown_figure(whose: &str, figure: &str, known: &[&str]) -> Option<String> {
    let hint = || suggestion(figure, known.iter().copied());
    (!known.contains(&figure)).then(|| format!("a {whose} has no figure \"{figure}\"{}", hint()))
}
