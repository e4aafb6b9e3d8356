//! The SHA-256 of everything that an observation rests on and came to: what binds its rows to the chained record.
//!
//! Never leaves a field out that decides anything. What it is made of is fixed: another making is another number in its
//! first field, and old entries stay what they are.

use super::{KeptStep, Observation};
use crate::domain::examination::observation::Outcome;
use crate::domain::units::Moment;
use sha2::{Digest as _, Sha256};

/// The making of digests now.
pub const MAKING: i64 = 1;

/// [`digest_of`] the making of now.
#[must_use]
pub fn digest(of: &Observation, steps: &[KeptStep], outcome: &Outcome, signed_at: Moment) -> String {
    digest_of(MAKING, of, steps, outcome, signed_at).unwrap_or_default()
}

/// SHA-256, in hexadecimal, of an observation with its steps, by place, and its outcome. Every field has its length before it, so
/// that no two different observations read alike. Nothing for a making that nobody knows.
#[must_use]
pub fn digest_of(
    making: i64,
    of: &Observation,
    steps: &[KeptStep],
    outcome: &Outcome,
    signed_at: Moment,
) -> Option<String> {
    if making != MAKING {
        return None;
    }
    let mut all = Fields(Sha256::new());
    all.text(&format!("sootmark observation {making}"));
    for number in [of.id.0, of.person_id.0, of.assessor_id.0, of.branch_id.0] {
        all.number(number);
    }
    for text in [of.task.id(), &of.machine_key, &of.checklist] {
        all.text(text);
    }
    for number in [of.machine_version.into(), of.model_version.into(), of.opened_at.0] {
        all.number(number);
    }
    all.count(steps.len());
    for step in steps {
        all.number(step.position.into());
        all.text(step.marked.mark.id());
        all.text(&step.marked.remark);
        all.number(step.saved_at.0);
        all.number(step.revision.into());
    }
    all.number(outcome.passed.into());
    for places in [&outcome.missed_critical, &outcome.missed, &outcome.left_out] {
        all.count(places.len());
        places.iter().for_each(|place| all.count(*place));
    }
    all.number(signed_at.0);
    Some(all.0.finalize().iter().map(|byte| format!("{byte:02x}")).collect())
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
}
