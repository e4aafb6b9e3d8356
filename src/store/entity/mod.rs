//! The rows, column by column. Only the repositories use them.
#![expect(unreachable_pub, reason = "the derive macros need every row to be pub")]

pub mod access_key;
pub mod appeal;
pub mod appeal_decision;
pub mod assignment;
pub mod assignment_withdrawal;
pub mod attempt;
pub mod attempt_question;
pub mod attempt_result;
pub mod bank_document;
pub mod branch;
pub mod calendar_feed;
pub mod certificate;
pub mod certificate_event;
pub mod certificate_machine;
pub mod debrief;
pub mod decision;
pub mod extra_time;
pub mod grade;
pub mod incident;
pub mod invigilation;
pub mod invitation;
pub mod known_place;
pub mod lesson_read;
pub mod letter_refusal;
pub mod named_trainer;
pub mod observation;
pub mod observation_result;
pub mod observation_step;
pub mod one_time_key;
pub mod outbox;
pub mod person;
pub mod proposal;
pub mod qualification;
pub mod question_flag;
pub mod record_entry;
pub mod record_head;
pub mod recovery_code;
pub mod refresher_trigger;
pub mod response;
pub mod session;
pub mod setting;
pub mod template_draft;
pub mod unsubscribe_token;
pub mod wrong_try;

/// What every row needs.
mod prelude {
    pub use crate::store::{
        AccessKeyId, AssignmentId, AttemptId, BranchId, CertificateId, DocumentId, DraftId, InvigilationId, MailId,
        ObservationId, PersonId, ProposalId, QualificationId, RecordEntryId, TriggerId, columns::Ts,
    };
    pub use sea_orm::entity::prelude::*;
}
