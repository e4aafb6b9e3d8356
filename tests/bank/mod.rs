//! The bank that is shipped: what its files must be, whoever edits them.

mod machines;
mod wording;
