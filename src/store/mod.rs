//! Rows and queries on SQLite and PostgreSQL: one repository per aggregate, and `read` for lists and reports.
//!
//! Repositories take any connection or transaction and plain values, and give plain values back: rows never leave this
//! module. Never looks at a clock, never decides who may do what, and never opens a transaction of its own except in
//! [`write()`], which the actions use.
//!
//! Naming: `by_...` gives the thing or [`StoreError::NotFound`]; `find_...` gives an `Option`.

mod columns;
mod connect;
mod entity;
mod error;
mod ids;
mod write;

pub mod access_keys;
pub mod assignments;
pub mod attempts;
pub mod backup;
pub mod bank_documents;
pub mod branches;
pub mod calendar_feeds;
pub mod certificates;
pub mod debriefs;
pub mod decisions;
pub mod extra_times;
pub mod incidents;
pub mod invigilations;
pub mod invitations;
pub mod known_places;
pub mod letter_choices;
pub mod named_trainers;
pub mod observations;
pub mod one_time_codes;
pub mod outbox;
pub mod people;
pub mod progress;
pub mod proposals;
pub mod qualifications;
pub mod read;
pub mod record;
pub mod sessions;
pub mod settings;
pub mod template_drafts;
pub mod triggers;
pub mod wrong_tries;

pub use connect::{
    ConnectError, Db, connect, connect_to_read, connect_to_read_older, migrate, migrate_without, newest_step,
    unproven_machine,
};
pub use error::{Failures, StoreError, conflict, failures};
pub use ids::{
    AccessKeyId, AssignmentId, AttemptId, BranchId, CertificateId, DocumentId, DraftId, InvigilationId, MailId,
    ObservationId, PersonId, ProposalId, QualificationId, RecordEntryId, TriggerId,
};
pub use write::{noticing, write};
