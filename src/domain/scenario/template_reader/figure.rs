//! Reads what is drawn beside the story, `figure:`, and refuses a drawing that shows what is asked for.
//!
//! Knows only what the text says: what a drawing gives away of a judgement is for whoever approves the scenario.

use super::{Reader, suggestion, words};
use crate::scenario::language::{Expr, Function};
use crate::scenario::sheet::Section;
use crate::scenario::template::{Answer, Ask, Beside, Figure, Let, Located, ShiftLine};

impl Reader<'_> {
    pub(super) fn figure(&mut self, beside: &mut Beside, line: u32, value: &str) {
        beside.figure_line = line;
        for word in words(value) {
            match Figure::from_id(word) {
                _ if word == "none" => {}
                Some(figure) => beside.figures.push(figure),
                None => {
                    let hint = suggestion(word, Figure::WORDS.iter().map(|(word, _)| *word));
                    self.problem(line, "figure", format!("there is no figure \"{word}\"{hint}"));
                }
            }
        }
        if words(value).next().is_none() {
            self.problem(line, "figure", "name the figures: gauge, lamps, plot; or leave this line out");
        }
    }

    /// What the figures of a part show must be there, and must not be what is asked for.
    pub(super) fn figures_fit(
        &mut self,
        beside: &Beside,
        sections: &[Section],
        (shift, lets): (&[Located<ShiftLine>], &[Let]),
        answer: &Answer,
    ) {
        if beside.figures.contains(&Figure::Lamps) && answer.ask == Ask::Lamps {
            self.problem(answer.line, "ask", "the lit lamps are asked for, so `figure:` must not show them");
        }
        if !beside.figures.contains(&Figure::Plot) {
            return;
        }
        let line = beside.figure_line;
        let works = |located: &Located<ShiftLine>| matches!(located.what, ShiftLine::Work { .. });
        if !sections.iter().any(|section| section.heading == "shift") {
            self.problem(line, "figure", "there is no section [shift] here, so there is no course to plot");
        } else if !shift.is_empty() && !shift.iter().any(works) {
            self.problem(line, "figure", "this shift has no line `work:`, so there is no course to plot");
        }
        if let Some(key) = answer.key.as_ref().filter(|key| self.on_the_plot(&key.what, lets)) {
            self.problem(
                key.line,
                "key",
                "this value can be read off the plot; ask for another, or leave the plot out",
            );
        }
    }

    /// Whether all that an expression asks of the model stands on the plot.
    fn on_the_plot(&self, expr: &Expr, lets: &[Let]) -> bool {
        let (mut plotted, mut other) = (false, false);
        expr.walk(&mut |inner| match inner {
            Expr::Call(Function::SootAt | Function::OutletAt, _) => plotted = true,
            Expr::Shift(figure) if matches!(figure.as_str(), "soot_before" | "hottest" | "minutes" | "hours") => {
                plotted = true;
            }
            Expr::Machine(_) | Expr::Shift(_) => other = true,
            Expr::Call(function, _) => other |= function.asks_model(),
            Expr::Name(name) => match lets.iter().find(|earlier| earlier.name == *name) {
                Some(earlier) if self.on_the_plot(&earlier.expr, lets) => plotted = true,
                Some(earlier) => other |= earlier.asks_model,
                None => other |= matches!(name.as_str(), "route" | "band" | "derated"),
            },
            _ => {}
        });
        plotted && !other
    }
}
