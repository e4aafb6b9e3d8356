//! The question bank that this program works with now: read once, shared by all, replaced whole when it changes.
//!
//! Never changes under a reader: whoever has taken it keeps what they took.

use crate::domain::bank::Bank;
use crate::domain::document::Problem;
use arc_swap::ArcSwap;
use std::sync::Arc;

/// A bank with what was found wrong when it was read.
#[derive(Debug, Default)]
pub struct ReadBank {
    /// What works.
    pub bank: Bank,
    /// What does not, with where and what to do.
    pub problems: Vec<Problem>,
    /// The newest document in it; a higher number in the database means that the bank has changed.
    pub newest_document: i64,
}

/// The bank in use. Cheap to clone; clones see the same bank.
#[derive(Clone, Debug, Default)]
pub struct BankInUse(Arc<ArcSwap<ReadBank>>);

impl BankInUse {
    /// The bank as it is now.
    #[must_use]
    pub fn now(&self) -> Arc<ReadBank> {
        self.0.load_full()
    }

    /// Puts another bank into use.
    pub(super) fn replace(&self, with: ReadBank) {
        self.0.store(Arc::new(with));
    }
}
