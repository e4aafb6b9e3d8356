//! The pages, as a reader meets them.

mod accounts;
mod look;
mod templates;
mod people;
mod qualified;
mod record;
mod requests;
