//! `/assignments`: what people are to do by a day, how far they are, and what is overdue.
//!
//! Never takes anybody's word for it: done is what the record says.

mod list;
mod one;
pub(super) mod progress;

pub use list::{assign, list};
pub use one::{one, withdraw};
