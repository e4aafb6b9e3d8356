//! The question bank that this program works with now: read once, shared by all, replaced whole when it changes.
//!
//! Never changes under a reader: whoever has taken it keeps what they took.

use crate::domain::bank::Bank;
use crate::domain::document::Problem;
use crate::domain::examination::difficulty::Answers;
use crate::domain::units::Moment;
use crate::store::StoreError;
use crate::store::read::answered::answered;
use arc_swap::{ArcSwap, ArcSwapOption};
use sea_orm::ConnectionTrait;
use std::sync::Arc;

/// For how long what was answered so far is taken as read; chosen by us: it moves slowly, and everybody who begins asks.
const ANSWERS_HOLD_S: i64 = 600;

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

/// The bank in use, with what was answered so far. Cheap to clone; clones see the same bank.
#[derive(Clone, Debug, Default)]
pub struct BankInUse {
    read: Arc<ArcSwap<ReadBank>>,
    answers: Arc<ArcSwapOption<(Moment, Arc<Answers>)>>,
}

impl BankInUse {
    /// The bank as it is now.
    #[must_use]
    pub fn now(&self) -> Arc<ReadBank> {
        self.read.load_full()
    }

    /// Puts another bank into use.
    pub(super) fn replace(&self, with: ReadBank) {
        self.read.store(Arc::new(with));
    }

    /// What everybody has answered so far in examinations, as it was within the last minutes.
    pub(super) async fn answers(&self, db: &impl ConnectionTrait, now: Moment) -> Result<Arc<Answers>, StoreError> {
        if let Some(kept) = &*self.answers.load()
            && (0..ANSWERS_HOLD_S).contains(&now.seconds_since(kept.0))
        {
            return Ok(Arc::clone(&kept.1));
        }
        let answers = Arc::new(answered(db).await?);
        self.answers.store(Some(Arc::new((now, Arc::clone(&answers)))));
        Ok(answers)
    }
}
