//! The machine and its filter: what the profile says, what the soot does, and what is right to do about it.
//!
//! Knows no questions, no people and no files. A profile is text that [`profile::Profile::read`] has checked whole; a
//! [`situation::Situation`] is one moment; [`judgement::judge`] is the answer for that moment.

pub mod burning;
pub mod controller;
mod crossing;
pub mod explain;
pub mod forecast;
pub mod happening;
pub mod hazard;
pub mod journey;
pub mod judgement;
pub mod kinetics;
pub mod lamp;
pub mod machine_log;
pub mod maps;
pub mod operator;
pub mod pressure;
pub mod profile;
mod profile_reader;
pub mod regeneration_adjustment;
pub mod rules;
pub mod signals;
pub mod situation;
pub mod surroundings;
pub mod thermal;
pub mod words;

/// The version of the filter model. A question stores it; when any answer of the model changes, it grows.
pub const MODEL_VERSION: u32 = 4;
