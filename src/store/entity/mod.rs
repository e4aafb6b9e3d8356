//! The rows, column by column. Only the repositories use them.
#![expect(unreachable_pub, reason = "the derive macros need every row to be pub")]

pub mod attempt;
pub mod attempt_question;
pub mod attempt_result;
pub mod bank_document;
pub mod branch;
pub mod debrief;
pub mod grade;
pub mod invitation;
pub mod lesson_read;
pub mod outbox;
pub mod person;
pub mod qualification;
pub mod record_entry;
pub mod record_head;
pub mod response;
pub mod session;
pub mod setting;
pub mod template_draft;

/// What every row needs.
mod prelude {
    pub use crate::store::{
        AttemptId, BranchId, DocumentId, DraftId, MailId, PersonId, QualificationId, RecordEntryId, columns::Ts,
    };
    pub use sea_orm::entity::prelude::*;
}
