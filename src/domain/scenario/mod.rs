//! From a trainer's text to a question with a proven key, and from an answer to what it shows.
//!
//! The key is never typed: the filter model supplies it. The same template, versions and seed give the same bytes, for
//! ever. Trainers' text is data: nothing in it can loop, recurse, read or write.

mod asks;
pub mod check;
pub mod course;
pub mod differences;
pub mod draw;
pub mod from_log;
pub mod generate;
pub mod grade;
pub mod language;
pub mod misconception;
pub mod question;
mod scope;
pub mod share;
mod sheet;
mod shift;
pub mod template;
mod template_reader;
mod vocabulary;
pub mod wording;

pub use generate::{Machine, generate};
pub use question::{Kind, Question};
pub use template::Template;
