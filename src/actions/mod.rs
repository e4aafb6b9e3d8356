//! What people do here, one file per deed: each owns its transaction, the moment it happens, and its entry in the record.
//!
//! A refusal that is part of the work ("this address is taken", "the invitation has run out") is a value of the deed's
//! outcome, not an error. An [`ActionError`] means that the program could not do what it should. Never knows about pages
//! or command lines.

mod bank_in_use;
mod check_code;
mod conclude;
mod error;
pub mod give_code;
mod grant;
mod hashing;
mod on_record;
pub mod one_time_code;
mod own_password;
mod past_bank;
mod propose;
mod publish_version;
mod regrade;
mod seeds;
mod session;
mod tell_decision;
mod throttle;
mod token;

pub mod accept_invitation;
pub mod access_key;
pub mod add_branch;
pub mod anonymise_person;
pub mod answer_practice_question;
pub mod appeal;
pub mod ask_for_password;
pub mod ask_practice_question;
pub mod assign;
pub mod assigned;
pub mod back_up;
pub mod begin_examination;
pub mod change_branch;
pub mod change_certificate;
pub mod change_password;
pub mod change_person;
pub mod check_record;
pub mod choose_units;
pub mod close_overdue;
pub mod decide;
pub mod end_sessions;
pub mod export_person;
pub mod flag_question;
pub mod hold_debrief;
pub mod import_people;
pub mod import_templates;
pub mod invigilate;
pub mod invite_again;
pub mod invite_person;
pub mod issuer;
pub mod keep_backups;
pub mod letter_choices;
pub mod load_bank;
pub mod name_trainer;
pub mod note_check;
pub mod note_incident;
pub mod observe;
pub mod publish_machine;
pub mod publish_template;
pub mod read_lesson;
pub mod record_trigger;
pub mod refused_access;
pub mod refused_invitation;
pub mod renew_calendar;
pub mod replay_attempt;
pub mod retire_template;
pub mod review_template;
pub mod save_answer;
pub mod set_extra_time;
pub mod set_up_codes;
pub mod sign_in;
pub mod sign_observation;
pub mod sign_out;
pub mod submit_examination;
pub mod withdraw_assignment;
pub mod write_due_letters;
pub mod write_template;

pub use bank_in_use::{BankInUse, ReadBank};
pub use conclude::{read_answer, read_question};
pub use error::ActionError;
pub use hashing::Hashing;
pub use past_bank::PastBank;
pub use seeds::Seeds;
pub use throttle::{KNOWN_FOR_S, Throttle};
pub use token::Token;

use crate::clock::Clock;
use crate::store::Db;
use crate::web::view::Views;
use std::sync::Arc;
use tokio::sync::Notify;

/// What every deed needs. Cheap to clone; clones work on the same database.
#[derive(Clone)]
pub struct Deeds {
    /// The database.
    pub db: Db,
    /// What time it is.
    pub clock: Clock,
    /// The templates, for letters.
    pub views: Views,
    /// How passwords are kept.
    pub hashing: Hashing,
    /// How long to wait after wrong passwords.
    pub throttle: Throttle,
    /// The address that people type, without a slash at its end; letters link to it.
    pub origin: String,
    /// Whether roles that decide sign in with one-time codes.
    pub codes_required: bool,
    /// Where the secret seeds of sittings come from.
    pub seeds: Seeds,
    /// The question bank.
    pub bank: BankInUse,
    /// Woken when a letter lies in the outbox.
    pub letters: Arc<Notify>,
}
