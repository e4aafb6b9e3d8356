//! The bank that is shipped: what its files must be, whoever edits them.

mod effect;
mod machines;
