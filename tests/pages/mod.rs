//! The pages, as a reader meets them.

mod accounts;
mod look;
mod people;
mod qualified;
mod record;
mod requests;
