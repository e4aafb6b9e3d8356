//! What a deed could not do.

use crate::store::StoreError;
use crate::web::view::ViewError;

/// Why a deed was not done. Nothing of it was saved, unless it is [`StoreError::CommitUnknown`].
#[derive(Debug, thiserror::Error)]
pub enum ActionError {
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A letter could not be written.
    #[error(transparent)]
    View(#[from] ViewError),
    /// Too much of something at once; later it will work.
    #[error("too busy: {0}")]
    Busy(&'static str),
    /// A password could not be hashed.
    #[error("hashing a password failed: {0}")]
    Hashing(String),
    /// The system gave no random bytes.
    #[error("the system gives no random bytes: {0}")]
    Randomness(String),
}
