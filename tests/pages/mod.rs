//! The pages, as a reader meets them.

mod accounts;
mod assignments;
mod bench;
mod branches;
mod calendar;
mod coverage;
mod debriefs;
mod decisions;
mod examine;
mod extra_time;
mod home;
mod invigilate;
mod learn;
mod letters;
mod look;
mod machines;
mod observe;
mod people;
mod practise;
mod qualified;
mod record;
mod refreshers;
mod requests;
mod templates;
mod who;
mod workbook;
