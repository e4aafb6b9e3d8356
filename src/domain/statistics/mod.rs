//! What a few answers say about somebody, and how far they can be trusted. Plain counts in, plain numbers out.
//!
//! Never decides anything: a cut is met or missed by the score itself, whatever the interval round it.

mod facility;
mod interval;

pub use facility::{Answered, facility};
pub use interval::{Interval, wilson_95};
