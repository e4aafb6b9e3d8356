//! How far somebody is with an assignment, as pages say it: worked out by the actions, which letters ask too.

pub(in crate::web::pages) use crate::actions::assigned::{Has, place, progress, thing};

use crate::store::assignments::Assignment;
use crate::web::dates::{day_in_words, read_day};

/// The day by which it is to be done, in words.
pub(in crate::web::pages) fn due(of: &Assignment) -> String {
    read_day(&of.entry.due_day).map_or_else(|| of.entry.due_day.clone(), day_in_words)
}
