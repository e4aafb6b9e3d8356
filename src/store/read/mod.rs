//! Lists and reports over several aggregates, each in a fixed number of queries whatever the number of people.
//!
//! Never writes, and never says who is qualified *now*: rows carry moments, the domain compares them with a clock.

pub mod answered;
pub mod assigned;
pub mod branches;
pub mod certification;
pub mod debriefs;
pub mod decisions;
pub mod history;
pub mod invigilated;
pub mod letters;
pub mod matrix;
pub mod misconceptions;
pub mod practice;
pub mod record_head;
pub mod service_managers;
pub mod sitting;
pub mod trained;
pub mod vitals;
