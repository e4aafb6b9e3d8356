//! Reading a file of the bank: every problem is collected with its line and field, never only the first.
//!
//! Never opens a file: the caller has the text and says what the file is called.

use serde::{Deserialize, Serialize};
use std::fmt;

/// One thing wrong with a file of the bank, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Problem {
    /// The file as the reader knows it.
    pub file: String,
    /// Line, counted from 1; 0 when the whole file is meant.
    pub line: u32,
    /// The field or section, such as `filter.volume`.
    pub field: String,
    /// What is wrong, and what to do.
    pub message: String,
}

impl Problem {
    /// A problem at a line of a file.
    pub fn new(file: impl Into<String>, line: u32, field: impl Into<String>, message: impl Into<String>) -> Self {
        Self { file: file.into(), line, field: field.into(), message: message.into() }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: {}: {}", self.file, self.line, self.field, self.message)
    }
}
