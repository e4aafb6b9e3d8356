//! The main paths in a real browser, with scripts and without.

mod driver;
mod new_hire;
