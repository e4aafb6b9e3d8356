//! What a sitting's answers come to.
//!
//! A mandatory safety question answered wrongly means not passed, whatever the score. A question without an answer
//! counts as wrong.

use super::scheme::Scheme;
use serde::{Deserialize, Serialize};

/// One question with how it was answered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Graded {
    /// Its place in the form.
    pub position: u32,
    /// The competence it asks for.
    pub competence: String,
    /// Whether it is safety-mandatory.
    pub mandatory: bool,
    /// Whether the answer is right; `false` without an answer.
    pub correct: bool,
}

/// How one competence came out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PartOutcome {
    /// The competence.
    pub competence: String,
    /// Questions answered rightly.
    pub right: usize,
    /// Questions asked.
    pub asked: usize,
    /// Share that was needed, in percent.
    pub cut_percent: f64,
    /// Whether the share was reached and no mandatory question missed.
    pub passed: bool,
}

/// How a sitting came out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Outcome {
    /// Questions answered rightly.
    pub right: usize,
    /// Questions asked.
    pub asked: usize,
    /// Share that was needed in all, in percent.
    pub cut_percent: f64,
    /// Each competence, in the scheme's order.
    pub parts: Vec<PartOutcome>,
    /// Places of mandatory questions answered wrongly.
    pub safety_misses: Vec<u32>,
    /// Whether the sitting is passed.
    pub passed: bool,
}

impl Outcome {
    /// The share of right answers, in percent; 0 without questions.
    #[must_use]
    pub fn score_percent(&self) -> f64 {
        share(self.right, self.asked)
    }
}

/// Right answers in percent of all.
#[expect(clippy::cast_precision_loss, reason = "a form has far fewer questions than 2^52")]
fn share(right: usize, asked: usize) -> f64 {
    if asked == 0 { 0.0 } else { 100.0 * right as f64 / asked as f64 }
}

/// Grades a whole sitting.
#[must_use]
pub fn conclude(scheme: &Scheme, graded: &[Graded]) -> Outcome {
    let parts: Vec<PartOutcome> = scheme
        .parts
        .iter()
        .map(|part| {
            let of_part = || graded.iter().filter(|question| question.competence == part.competence);
            let (right, asked) = (of_part().filter(|question| question.correct).count(), of_part().count());
            let missed = of_part().any(|question| question.mandatory && !question.correct);
            let passed = asked > 0 && share(right, asked) >= part.cut_percent && !missed;
            PartOutcome { competence: part.competence.clone(), right, asked, cut_percent: part.cut_percent, passed }
        })
        .collect();
    let right = graded.iter().filter(|question| question.correct).count();
    let missed = graded.iter().filter(|question| question.mandatory && !question.correct);
    let safety_misses: Vec<u32> = missed.map(|question| question.position).collect();
    let passed = safety_misses.is_empty()
        && !graded.is_empty()
        && share(right, graded.len()) >= scheme.cut_percent
        && parts.iter().all(|part| part.passed);
    Outcome { right, asked: graded.len(), cut_percent: scheme.cut_percent, parts, safety_misses, passed }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::examination::scheme::Part;
    use proptest::prelude::*;

    fn scheme() -> Scheme {
        let part = |competence: &str| Part { competence: competence.into(), questions: 4, cut_percent: 50.0 };
        Scheme {
            id: "s".into(),
            title: "S".into(),
            says: "s".into(),
            modules: Vec::new(),
            machines: Vec::new(),
            time_limit_s: 600,
            cut_percent: 75.0,
            valid_for_months: 36,
            resit_after_s: 3600,
            debrief_after_safety_miss: true,
            parts: vec![part("fire"), part("lamps")],
        }
    }

    fn graded(answers: &[(bool, bool)]) -> Vec<Graded> {
        let question = |(position, (mandatory, correct)): (u32, &(bool, bool))| Graded {
            position,
            competence: if *mandatory { "fire" } else { "lamps" }.into(),
            mandatory: *mandatory,
            correct: *correct,
        };
        (0..).zip(answers).map(question).collect()
    }

    #[test]
    fn a_safety_miss_fails_whatever_the_score() {
        let mut answers = vec![(true, true); 4];
        answers.extend([(false, true); 4]);
        assert!(conclude(&scheme(), &graded(&answers)).passed);
        answers[2].1 = false;
        let outcome = conclude(&scheme(), &graded(&answers));
        assert_eq!((outcome.right, outcome.asked, outcome.passed), (7, 8, false));
        assert_eq!(outcome.safety_misses, [2]);
        assert!(!outcome.parts[0].passed && outcome.parts[1].passed);
    }

    #[test]
    fn nothing_answered_is_not_passed() {
        assert!(!conclude(&scheme(), &[]).passed);
    }

    proptest! {
        #[test]
        fn one_more_right_answer_never_fails_anybody(answers in proptest::collection::vec(any::<(bool, bool)>(), 1..20), at: proptest::sample::Index) {
            let before = conclude(&scheme(), &graded(&answers));
            let mut better = answers.clone();
            at.get_mut(&mut better).1 = true;
            let after = conclude(&scheme(), &graded(&better));
            prop_assert!(after.passed >= before.passed);
            prop_assert!(after.score_percent() >= before.score_percent());
        }

        #[test]
        fn whoever_passed_missed_no_safety_question(answers in proptest::collection::vec(any::<(bool, bool)>(), 1..20)) {
            let outcome = conclude(&scheme(), &graded(&answers));
            prop_assert!(!outcome.passed || answers.iter().all(|(mandatory, correct)| !mandatory || *correct));
        }
    }
}
