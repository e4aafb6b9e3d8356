//! Reading a file of the bank: every problem is collected with its place and field, never only the first.
//!
//! Never opens a file: the caller has the text and says what the file is called. Never fills in a default: a field that
//! is not there is a problem or, where the reader says so, absent.

mod amount;
mod nearest;
mod place;
mod rows;
mod section;
#[cfg(test)]
mod tests;

pub use section::{Item, Section};

pub use nearest::nearest;
pub use place::Place;
pub use rows::RowLines;
use serde::{Deserialize, Serialize};
use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Most findings told of one file; chosen by us: more than anyone mends at a sitting.
pub const MOST_FINDINGS: usize = 100;

/// The findings in the file's order, each once, and after them how many more there were.
#[must_use]
pub fn told(file: &str, mut problems: Vec<Problem>, untold: usize) -> Vec<Problem> {
    problems.sort();
    problems.dedup();
    if untold > 0 {
        let message = format!("{untold} more are not listed here; put these right first");
        problems.push(Problem::new(file, 0, "file", message));
    }
    problems
}

/// One thing wrong with a file of the bank, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Problem {
    /// The file as the reader knows it.
    pub file: String,
    /// Line, counted from 1; 0 when the whole file is meant.
    pub line: u32,
    /// Column, counted in characters from 1; 0 when the whole line is meant.
    #[serde(default)]
    pub column: u32,
    /// The field or section, such as `filter.volume`.
    pub field: String,
    /// What is wrong, and what to do.
    pub message: String,
}

impl Problem {
    /// A problem at a place of a file; a bare number is a line.
    pub fn new(
        file: impl Into<String>,
        at: impl Into<Place>,
        field: impl Into<String>,
        message: impl Into<String>,
    ) -> Self {
        let Place { line, column } = at.into();
        Self { file: file.into(), line, column, field: field.into(), message: message.into() }
    }

    /// Where it is.
    #[must_use]
    pub const fn place(&self) -> Place {
        Place { line: self.line, column: self.column }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: {}: {}", self.file, self.place(), OneLine(&self.field), OneLine(&self.message))
    }
}

/// A text without line ends or other signs that nobody sees: a file's own words stand in what is said about it.
struct OneLine<'t>(&'t str);

impl fmt::Display for OneLine<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.chars().try_for_each(|letter| match letter.is_control() {
            true => write!(f, "{}", letter.escape_default()),
            false => write!(f, "{letter}"),
        })
    }
}

/// A file of the bank while it is read. Every question asked of its [`Section`]s collects what is wrong; [`finish`]
/// hands all of it over. A key that nobody asked for is a problem too.
///
/// [`finish`]: Document::finish
#[derive(Debug)]
pub struct Document<'t> {
    file: String,
    text: &'t str,
    root: Spanned<DeTable<'t>>,
    line_starts: Vec<usize>,
    syntax_broken: bool,
    problems: RefCell<Vec<Problem>>,
    /// Problems beyond [`MOST_FINDINGS`].
    untold: Cell<usize>,
    /// Section path -> the keys that were asked for there.
    asked: RefCell<BTreeMap<String, BTreeSet<String>>>,
}

impl<'t> Document<'t> {
    /// Reads the text of a file. Where its TOML is broken, what could be read is still walked, and keys that may have
    /// been lost with the broken part are not called missing or unknown.
    #[must_use]
    pub fn parse(file: &str, text: &'t str) -> Self {
        let (root, errors) = DeTable::parse_recoverable(text);
        let line_starts = std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        let document = Self {
            file: file.to_owned(),
            text,
            root,
            line_starts,
            syntax_broken: !errors.is_empty(),
            problems: RefCell::default(),
            untold: Cell::default(),
            asked: RefCell::default(),
        };
        for error in &errors {
            let at = document.place_at(error.span().map_or(0, |span| span.start));
            document.push(at, String::new(), format!("this is not TOML: {}", error.message()));
        }
        document
    }

    /// The file's top level.
    #[must_use]
    pub fn root(&self) -> Section<'_> {
        Section::new(self, String::new(), self.root.get_ref(), Place::line(1))
    }

    /// Every problem found, in the file's order. Call it when everything that may stand in the file has been asked for.
    #[must_use]
    pub fn finish(self) -> Vec<Problem> {
        if !self.syntax_broken {
            self.report_unasked("", self.root.get_ref());
        }
        told(&self.file, self.problems.into_inner(), self.untold.get())
    }

    fn place_at(&self, byte: usize) -> Place {
        let byte = self.text.floor_char_boundary(byte);
        let line = self.line_starts.partition_point(|start| *start <= byte);
        let start = line.checked_sub(1).and_then(|line| self.line_starts.get(line)).copied().unwrap_or_default();
        Place::new(line, self.text[start..byte].chars().count() + 1)
    }

    fn push(&self, at: Place, field: String, message: String) {
        if self.full() {
            self.untold.set(self.untold.get() + 1);
        } else {
            self.problems.borrow_mut().push(Problem::new(self.file.clone(), at, field, message));
        }
    }

    /// Whether no more problems are told: whoever has this many to mend needs no more, and a hostile file is not to grow.
    fn full(&self) -> bool {
        self.problems.borrow().len() >= MOST_FINDINGS
    }

    fn note_asked(&self, path: &str, key: &str) {
        self.asked.borrow_mut().entry(path.to_owned()).or_default().insert(key.to_owned());
    }

    fn report_unasked(&self, path: &str, table: &DeTable<'_>) {
        // A section that was never entered is reported by its own key, not key by key.
        let Some(asked) = self.asked.borrow().get(path).cloned() else { return };
        for (key, value) in table {
            let name = key.get_ref().as_ref();
            if asked.contains(name) {
                self.report_unasked_below(&join(path, name), value.get_ref());
                continue;
            }
            if self.full() {
                self.untold.set(self.untold.get() + 1);
                continue;
            }
            let hint = match nearest(name, asked.iter().map(String::as_str)) {
                Some(meant) => format!("did you mean \"{meant}\"?"),
                None => format!("known here: {}", asked.iter().cloned().collect::<Vec<_>>().join(", ")),
            };
            let message = format!("nobody knows the field \"{name}\"; {hint}");
            self.push(self.place_at(key.span().start), join(path, name), message);
        }
    }

    fn report_unasked_below(&self, path: &str, value: &DeValue<'_>) {
        if let Some(table) = value.as_table() {
            self.report_unasked(path, table);
        }
        for (index, item) in value.as_array().into_iter().flat_map(|items| items.iter()).enumerate() {
            if let Some(table) = item.get_ref().as_table() {
                self.report_unasked(&numbered(path, index), table);
            }
        }
    }
}

fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}

/// The name of one item of a list; people count from 1.
fn numbered(path: &str, index: usize) -> String {
    format!("{path}[{}]", index + 1)
}
