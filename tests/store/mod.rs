//! The store, on both databases.

mod attempts;
mod bank_documents;
mod opening;
mod outbox;
mod people;
mod reading;
mod record;
mod sample;
mod writing;
