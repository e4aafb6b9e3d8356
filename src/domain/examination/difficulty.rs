//! How difficult a form is expected to be, so that two forms by one scheme are worth the same.
//!
//! By the level of each question, and by answers as soon as there are any. Never changes what an answer is worth.

use super::scheme::Scheme;
use crate::bank::{Bank, TemplateEntry};
use crate::scenario::Question;
use crate::statistics::{Answered, facility};
use std::collections::BTreeMap;

/// The share of right answers that is expected of a question before anything is known of it, by level: knows, applies, judges.
/// Chosen by us; answers of real sittings replace them by and by.
const EXPECTED: [f64; 3] = [0.85, 0.75, 0.65];

/// What was answered so far, by template and its version; a new version begins anew.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Answers(BTreeMap<(String, u32), Answered>);

impl Answers {
    /// Adds what was answered to a version of a template.
    pub fn add(&mut self, template: String, version: u32, answered: Answered) {
        let all = self.0.entry((template, version)).or_default();
        all.right += answered.right;
        all.asked += answered.asked;
    }

    /// The share of wrong answers that is to be expected, from 0 to 1.
    fn difficulty(&self, template: &str, version: u32, level: u8) -> f64 {
        let expected = EXPECTED[usize::from(level.clamp(1, 3)) - 1];
        let seen = self.0.get(&(template.to_owned(), version)).copied().unwrap_or_default();
        1.0 - facility(seen, expected)
    }
}

/// The share of a form's questions that are expected to be answered wrongly, from 0 to 1; 0 without questions.
#[must_use]
pub fn of_form<'q>(form: impl IntoIterator<Item = &'q Question>, answers: &Answers) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0_f64);
    for question in form {
        sum += answers.difficulty(&question.source.template, question.source.template_version, question.level);
        count += 1.0;
    }
    sum / count.max(1.0)
}

/// What a form by a scheme is meant to be: of each part the mean of the bank's questions for it, weighed by how many the scheme
/// asks.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "far fewer questions than 2^52")]
pub fn meant(bank: &Bank, scheme: &Scheme, answers: &Answers) -> f64 {
    let usable = |entry: &TemplateEntry| {
        scheme.machines.is_empty() || scheme.machines.iter().any(|machine| entry.template.fits(machine))
    };
    let mut sum = 0.0;
    for part in &scheme.parts {
        let of_part = bank.templates().filter(|entry| {
            entry.template.competence == part.competence
                && entry.template.part_count() <= part.questions
                && usable(entry)
        });
        let (mut of_all, mut count) = (0.0, 0.0_f64);
        for entry in of_part {
            let questions = entry.template.part_count() as f64;
            of_all += questions * answers.difficulty(&entry.template.id, entry.version, entry.template.level);
            count += questions;
        }
        sum += part.questions as f64 * of_all / count.max(1.0);
    }
    sum / (scheme.questions().max(1) as f64)
}
