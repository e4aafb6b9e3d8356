//! Lists and reports over several aggregates, each in a fixed number of queries whatever the number of people.
//!
//! Never writes, and never says who is qualified *now*: rows carry moments, the domain compares them with a clock.

pub mod attempts_on_machine;
pub mod branches;
pub mod debriefs;
pub mod history;
pub mod matrix;
pub mod misconceptions;
pub mod practice;
pub mod record_head;
pub mod sitting;
