//! From a scheme to a form of questions, and from a sitting's answers to its outcome.
//!
//! Assembles and grades; never knows who sits, and never reads a clock.

pub mod code;
pub mod difficulty;
pub mod extra_time;
pub mod form;
pub mod observation;
pub mod outcome;
pub mod practice;
pub mod scheme;
