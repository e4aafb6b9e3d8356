//! How much has been worked out for one question, so that no scenario takes the program's time for itself.
//!
//! Counts steps and never time: the same scenario is refused on every machine, or on none.

use super::limits::MOST_STEPS;
use super::scope::NoValue;
use std::cell::Cell;

/// Asking the model for a number, in steps.
pub(super) const MODEL: u32 = 20;
/// An hour of a shift, in steps: a journey of ten hours takes as long as some thousand values.
pub(super) const SHIFT_HOUR: f64 = 200.0;
/// Bytes of text that cost a step.
const BYTES: usize = 16;

/// The steps of one question, over all its draws.
#[derive(Debug, Default)]
pub(super) struct Meter(Cell<u32>);

impl Meter {
    /// Takes steps, before they are done.
    pub(super) fn spend(&self, steps: u32) -> Result<(), NoValue> {
        self.0.set(self.0.get().saturating_add(steps));
        if self.is_spent() { Err(NoValue::TooMuch) } else { Ok(()) }
    }

    /// Takes the steps of copying a text.
    pub(super) fn spend_text(&self, bytes: usize) -> Result<(), NoValue> {
        self.spend(u32::try_from(bytes / BYTES).unwrap_or(u32::MAX))
    }

    /// Whether more was asked for than there is; somebody may have gone on without what was refused.
    pub(super) fn is_spent(&self) -> bool {
        self.0.get() > MOST_STEPS
    }
}
