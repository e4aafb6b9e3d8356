//! A log of a machine's network, read into readings, events and the situation at its end.
//!
//! Takes the text of a log in the forms of the Linux CAN utilities or a table of decoded signals. Never fails and never
//! drops a line in silence: each is used, ignored by name, or refused with a problem at its line; what was readable
//! is given whatever is wrong elsewhere. Never fills in what the machine did not say.

mod events;
mod fit;
mod frame;
mod lines;
mod moment;
mod parameter;
mod readout;
mod stretches;
mod table;
#[cfg(test)]
mod tests;

pub use events::{Event, Happening};
pub use frame::Identifier;
pub use moment::{Missing, Moment, Old};
pub use parameter::{NUMBER_PLACES, NUMBERS, NumberPlace, word_of, words};
pub use readout::{Readout, Span};
pub use stretches::Stretch;

use crate::document::Problem;
use parameter::Said;
use serde::Serialize;
use std::collections::BTreeMap;

/// What a log says.
#[derive(Clone, Debug, PartialEq)]
pub struct MachineLog {
    /// What is known after each line that said something, in the order of time.
    pub readings: Vec<Reading>,
    /// What changed, in the order of time.
    pub events: Vec<Event>,
    /// Every problem, in the order of the lines.
    pub problems: Vec<Problem>,
    /// What became of the lines.
    pub lines: LineCount,
    /// When each parameter was last said, by its number in the standard (SPN).
    last_said: BTreeMap<u32, Option<i64>>,
}

/// Everything that is known at one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The line that said the newest of it, counted from 1.
    pub line: u32,
    /// Microseconds as in the log; `None` in a log without times.
    pub at_us: Option<i64>,
    /// What is known.
    pub readout: Readout,
}

/// What became of the lines of a log. `all` is the sum of the others.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct LineCount {
    /// Every line.
    pub all: u32,
    /// Said something about the filter or the engine.
    pub used: u32,
    /// Empty lines, remarks and the headings of a table.
    pub blank: u32,
    /// Could not be read; each has a problem, unless the file as a whole is no log.
    pub refused: u32,
    /// Read, but about something else: what, and how many lines.
    pub ignored: BTreeMap<String, u32>,
    /// Columns of a table that nobody knows, by their headings; their cells are not used.
    pub ignored_columns: Vec<String>,
}

impl LineCount {
    /// How many lines were ignored.
    #[must_use]
    pub fn ignored_lines(&self) -> u32 {
        self.ignored.values().sum()
    }
}

/// What one line says.
#[derive(Debug)]
struct Statement {
    line: u32,
    at_us: Option<i64>,
    said: Vec<(u32, Said)>,
}

/// A log while it is read: what its lines say, and what is wrong with them.
struct Draft<'f> {
    file: &'f str,
    statements: Vec<Statement>,
    problems: Vec<Problem>,
    lines: LineCount,
}

impl Draft<'_> {
    fn problem(&mut self, line: u32, field: &str, message: impl Into<String>) {
        self.problems.push(Problem::new(self.file, line, field, message));
    }

    fn refuse(&mut self, line: u32, field: &str, message: impl Into<String>) {
        self.lines.refused += 1;
        self.problem(line, field, message);
    }
}

/// Lines of the beginning by which a file is known for a log; chosen by us: enough for a damaged beginning.
const LOOKED_AT: usize = 200;

impl MachineLog {
    /// Reads a log. `file` is what problems call it.
    #[must_use]
    pub fn read(file: &str, text: &str) -> Self {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut draft = Draft { file, statements: Vec::new(), problems: Vec::new(), lines: LineCount::default() };
        if text
            .lines()
            .take(LOOKED_AT)
            .any(|line| matches!(frame::read(line), Ok(frame::Line::Frame(_) | frame::Line::Other(_))))
        {
            lines::read(&mut draft, text);
        } else if let Some(heading) = table::heading(text) {
            table::read(&mut draft, text, &heading);
        } else {
            draft.lines.all = count(text.lines().count());
            draft.lines.blank = count(text.lines().filter(|line| line.trim().is_empty()).count());
            draft.lines.refused = draft.lines.all - draft.lines.blank;
            let message = "this is no machine log; a CAN log with lines like \"(1772439452.250000) can0 18FD7C00#...\" or a \
                           table of signals with headings like time_s, soot_percent is wanted";
            draft.problem(0, "log", message);
        }
        draft.in_order();
        Self::of(draft)
    }

    fn of(mut draft: Draft<'_>) -> Self {
        let (mut readout, mut readings) = (Readout::default(), Vec::new());
        let (mut watch, mut last_said) = (events::Watch::default(), BTreeMap::new());
        for statement in std::mem::take(&mut draft.statements) {
            let Statement { line, at_us, said } = statement;
            for (spn, said) in &said {
                match readout.take(*spn, *said) {
                    Ok(()) => drop(last_said.insert(*spn, at_us)),
                    Err(raw) if watch.is_new_riddle(*spn) => draft.problem(
                        line,
                        &format!("SPN {spn}"),
                        format!("the value {raw} has no meaning; it is taken as not available"),
                    ),
                    Err(_) => {}
                }
            }
            watch.see(line, at_us, &readout, &said);
            readings.push(Reading { line, at_us, readout: readout.clone() });
        }
        if readings.is_empty() && draft.problems.is_empty() {
            draft.problem(0, "log", "no line says anything about a filter or an engine");
        }
        draft.problems.sort();
        Self { readings, events: watch.events, problems: draft.problems, lines: draft.lines, last_said }
    }
}

impl Draft<'_> {
    /// Brings the statements into the order of time. A line without a time has that of the line before it.
    fn in_order(&mut self) {
        let (mut before, mut late) = (None::<(i64, u32)>, Vec::new());
        for statement in &mut self.statements {
            match (statement.at_us, before) {
                (Some(at), Some((latest, line))) if at < latest => late.push((statement.line, line)),
                (None, Some((at, _))) => statement.at_us = Some(at),
                _ => {}
            }
            before = statement.at_us.map(|at| (at, statement.line)).or(before);
        }
        for (line, after) in late {
            let message = format!("is earlier than line {after} before it; its reading stands where its time belongs");
            self.problem(line, "time", message);
        }
        self.statements.sort_by_key(|statement| statement.at_us);
    }
}

fn count(lines: usize) -> u32 {
    u32::try_from(lines).unwrap_or(u32::MAX)
}
