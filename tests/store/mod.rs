//! The store, on both databases.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod assignments;
mod attempts;
mod bank_documents;
mod certification;
mod guards;
pub(crate) mod migrations;
mod observations;
mod opening;
mod outbox;
mod people;
mod protected;
mod reading;
mod record;
pub(crate) mod sample;
mod sittings;
mod template_drafts;
mod writing;
mod wrong_tries;
