//! Reads expressions and filled-in text, and finds out which of them ask the model.

use super::{Reader, suggestion};
use crate::scenario::language::{Expr, Function, Text, parse};
use crate::scenario::shift;
use crate::scenario::template::Let;
use crate::scenario::vocabulary::{FIGURES, is_word};

impl Reader<'_> {
    pub(super) fn text(&mut self, line: u32, field: &str, text: &str) -> Option<Text> {
        if self.left_open(line, field, text) {
            return None;
        }
        match Text::read(text) {
            Ok(read) => {
                let mut known = true;
                for expr in read.expressions() {
                    known &= self.names_known(line, field, expr);
                }
                known.then_some(read)
            }
            Err(misread) => {
                self.problem(line, field, misread.to_string());
                None
            }
        }
    }

    /// An expression that may ask the model.
    pub(super) fn expression(&mut self, line: u32, field: &str, text: &str) -> Option<Expr> {
        if self.left_open(line, field, text) {
            return None;
        }
        match parse(text) {
            Ok(expr) => self.names_known(line, field, &expr).then_some(expr),
            Err(misread) => {
                self.problem(line, field, misread.to_string());
                None
            }
        }
    }

    /// Whether a line is still open, as in a draft that somebody has to finish.
    pub(super) fn left_open(&mut self, line: u32, field: &str, text: &str) -> bool {
        let open = text.trim().is_empty();
        if open {
            self.problem(line, field, "this is left open, so the scenario is not finished; write it behind the name");
        }
        open
    }

    /// An expression that must not ask the model, because there is no situation yet.
    pub(super) fn plain(&mut self, line: u32, field: &str, text: &str) -> Option<Expr> {
        let expr = self.expression(line, field, text.trim())?;
        if self.asks_model(&expr) {
            self.problem(line, field, "the model cannot be asked here, because the situation is not there yet");
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

    fn names_known(&mut self, line: u32, field: &str, expr: &Expr) -> bool {
        let mut unknown: Vec<(String, String)> = Vec::new();
        expr.walk(&mut |inner| match inner {
            Expr::Name(name) => {
                let special = matches!(name.as_str(), "route" | "band" | "derated" | "yes" | "no");
                let band = self.lexicon.bands.contains(name);
                if !(special || band || is_word(name) || self.names.contains(name)) {
                    let hint = suggestion(name, self.names.iter().map(String::as_str));
                    unknown.push((name.clone(), format!("there is no value or word \"{name}\"{hint}")));
                }
            }
            Expr::Machine(figure) if !FIGURES.contains(&figure.as_str()) => {
                let hint = suggestion(figure, FIGURES.iter().copied());
                unknown.push((figure.clone(), format!("a machine has no figure \"{figure}\"{hint}")));
            }
            Expr::Shift(figure) if !self.has_shift => {
                unknown.push((figure.clone(), "there is no section [shift] to ask about".to_owned()));
            }
            Expr::Shift(figure) if !shift::FIGURES.contains(&figure.as_str()) => {
                let hint = suggestion(figure, shift::FIGURES.iter().copied());
                unknown.push((figure.clone(), format!("a shift has no figure \"{figure}\"{hint}")));
            }
            Expr::Call(Function::SootAt | Function::OutletAt, _) if !self.has_shift => {
                unknown.push((String::new(), "there is no section [shift] to ask about".to_owned()));
            }
            _ => {}
        });
        for (_, message) in &unknown {
            self.problem(line, field, message.clone());
        }
        unknown.is_empty()
    }
}
