//! A place in a file: its line and, where it is known, its column.
//!
//! Knows no file; a problem names that.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A line and a column, both counted from 1. Line 0 is the whole file, column 0 the whole line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Place {
    /// The line.
    pub line: u32,
    /// The column, in characters.
    pub column: u32,
}

impl Place {
    pub(crate) fn new(line: usize, column: usize) -> Self {
        let short = |number| u32::try_from(number).unwrap_or(u32::MAX);
        Self { line: short(line), column: short(column) }
    }

    /// A whole line.
    #[must_use]
    pub const fn line(line: u32) -> Self {
        Self { line, column: 0 }
    }
}

impl From<u32> for Place {
    fn from(line: u32) -> Self {
        Self::line(line)
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.column {
            0 => write!(f, "{}", self.line),
            column => write!(f, "{}:{column}", self.line),
        }
    }
}
