//! The SHA-256 of everything that a concluded attempt rests on and came to: what binds the rows to the chained record.
//!
//! Never leaves a field out that decides anything. What it is made of is fixed: another making is another number in its
//! first field, and old entries stay what they are.

use super::{Attempt, AttemptKind, AttemptQuestion, AttemptResult, AttemptState, Grade, Response};
use crate::domain::units::Moment;
use crate::store::columns;
use sha2::{Digest as _, Sha256};

/// The making of digests now. 1, until there were terms of a sitting, left these out.
pub const MAKING: i64 = 2;

/// [`digest_of`] the making of now.
#[must_use]
pub fn digest(
    attempt: &Attempt,
    questions: &[AttemptQuestion],
    responses: &[Response],
    grades: &[Grade],
    result: &AttemptResult,
) -> String {
    digest_of(MAKING, attempt, questions, responses, grades, result).unwrap_or_default()
}

/// SHA-256, in hexadecimal, of an attempt with its questions, answers, grades and result, each list by position. Every
/// field has its length before it, so that no two different attempts read alike. Nothing for a making that nobody knows, or that
/// would leave out something that the attempt has.
#[must_use]
pub fn digest_of(
    making: i64,
    attempt: &Attempt,
    questions: &[AttemptQuestion],
    responses: &[Response],
    grades: &[Grade],
    result: &AttemptResult,
) -> Option<String> {
    let plain = attempt.extra_s == 0 && attempt.invigilation_id.is_none() && attempt.ended_by.is_none();
    if !(1..=MAKING).contains(&making) || (making == 1 && !plain) {
        return None;
    }
    let mut all = Fields(Sha256::new());
    all.text(&format!("sootmark attempt {making}"));
    of_attempt(&mut all, attempt);
    if making > 1 {
        all.number(attempt.extra_s);
        for id in [attempt.invigilation_id.map(|id| id.0), attempt.ended_by.map(|id| id.0)] {
            all.maybe(id.map(i64::to_be_bytes).as_ref().map(<[u8; 8]>::as_slice));
        }
    }
    all.count(questions.len());
    for asked in questions {
        let question = &asked.question;
        all.number(asked.position.into());
        for text in [&question.template_key, &question.machine_key, &question.competence_key, &question.json] {
            all.text(text);
        }
        for version in [question.template_version, question.machine_version, question.model_version] {
            all.number(version.into());
        }
        all.number(question.mandatory.into());
    }
    all.count(responses.len());
    for saved in responses {
        all.number(saved.position.into());
        all.text(&saved.answer);
        all.number(saved.saved_at.0);
        all.number(saved.revision.into());
    }
    all.count(grades.len());
    for grade in grades {
        all.number(grade.position.into());
        all.number(grade.correct.into());
        all.share(grade.points);
        all.count(grade.misconceptions.len());
        grade.misconceptions.iter().for_each(|misconception| all.text(misconception));
    }
    all.share(result.score);
    all.number(result.passed.into());
    all.text(&result.outcome);
    all.number(result.graded_at.0);
    Some(all.0.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
}

fn of_attempt(all: &mut Fields, attempt: &Attempt) {
    all.number(attempt.id.0);
    all.number(attempt.person_id.0);
    all.text(match attempt.kind {
        AttemptKind::Practice => "practice",
        AttemptKind::Examination => "examination",
    });
    all.maybe(attempt.scheme_key.as_deref().map(str::as_bytes));
    all.maybe(attempt.scheme_version.map(|version| i64::from(version).to_be_bytes()).as_ref().map(<[u8; 8]>::as_slice));
    all.maybe(attempt.module_key.as_deref().map(str::as_bytes));
    all.bytes(&attempt.seed);
    all.text(columns::unit_text(attempt.temperature_unit));
    all.text(match attempt.state {
        AttemptState::Open => "open",
        AttemptState::Submitted => "submitted",
        AttemptState::Expired => "expired",
    });
    all.number(attempt.started_at.0);
    all.moment(attempt.deadline_at);
    all.moment(attempt.submitted_at);
}

struct Fields(Sha256);

impl Fields {
    fn bytes(&mut self, field: &[u8]) {
        self.0.update((field.len() as u64).to_be_bytes());
        self.0.update(field);
    }

    fn text(&mut self, field: &str) {
        self.bytes(field.as_bytes());
    }

    fn number(&mut self, field: i64) {
        self.bytes(&field.to_be_bytes());
    }

    fn count(&mut self, of: usize) {
        self.bytes(&(of as u64).to_be_bytes());
    }

    fn share(&mut self, field: f64) {
        self.bytes(&field.to_bits().to_be_bytes());
    }

    /// Nothing is not the same as something empty.
    fn maybe(&mut self, field: Option<&[u8]>) {
        self.number(field.is_some().into());
        self.bytes(field.unwrap_or_default());
    }

    fn moment(&mut self, field: Option<Moment>) {
        self.maybe(field.map(|moment| moment.0.to_be_bytes()).as_ref().map(<[u8; 8]>::as_slice));
    }
}
