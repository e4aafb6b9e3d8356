//! What changed between two versions, as rows.

use crate::domain::scenario::differences::differences;
use serde::Serialize;

/// One part that changed. What is not there is empty.
#[derive(Serialize)]
pub(super) struct Change {
    part: String,
    before: String,
    after: String,
}

/// Every part that changed.
pub(super) fn changes(before: &str, after: &str) -> Vec<Change> {
    let change = |found: crate::domain::scenario::differences::Difference| Change {
        part: found.part,
        before: found.before.unwrap_or_default(),
        after: found.after.unwrap_or_default(),
    };
    differences(before, after).into_iter().map(change).collect()
}
