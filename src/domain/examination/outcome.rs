//! What a sitting's answers come to.
//!
//! A mandatory safety question answered wrongly means not passed, whatever the score. A question without an answer
//! counts as wrong.

use super::scheme::Scheme;
use crate::scenario::share::Share;
use crate::statistics::{Interval, wilson_95};
use crate::units::plain_number;
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
    /// What the answer earns; nothing without an answer.
    pub share: Share,
}

impl Graded {
    /// Whether it is mandatory and not wholly right: where somebody can be hurt, a part is not enough.
    #[must_use]
    pub const fn is_safety_miss(&self) -> bool {
        self.mandatory && !self.share.is_whole()
    }
}

/// How one competence came out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PartOutcome {
    /// The competence.
    pub competence: String,
    /// Questions answered rightly.
    pub right: usize,
    /// What answers that are right in part earn together, in sixtieths of a question.
    #[serde(default, skip_serializing_if = "is_nothing")]
    pub partly: u32,
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
    /// What answers that are right in part earn together, in sixtieths of a question.
    #[serde(default, skip_serializing_if = "is_nothing")]
    pub partly: u32,
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
    /// The share that was earned, in percent; 0 without questions.
    #[must_use]
    pub fn score_percent(&self) -> f64 {
        percent(self.right, self.partly, self.asked)
    }

    /// What was earned, in questions: "7", or "7.5" where an answer was right in part.
    #[must_use]
    pub fn earned(&self) -> String {
        earned(self.right, self.partly)
    }

    /// The 95 % interval of the share, in words; nothing without questions.
    #[must_use]
    pub fn interval(&self) -> Option<String> {
        wilson_95(questions_earned(self.right, self.partly), self.asked).map(Interval::words)
    }
}

impl PartOutcome {
    /// What was earned, in questions: "3", or "3.33" where an answer was right in part.
    #[must_use]
    pub fn earned(&self) -> String {
        earned(self.right, self.partly)
    }

    /// The 95 % interval of the share, in words; nothing without questions.
    #[must_use]
    pub fn interval(&self) -> Option<String> {
        wilson_95(questions_earned(self.right, self.partly), self.asked).map(Interval::words)
    }
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands over a reference")]
const fn is_nothing(sixtieths: &u32) -> bool {
    *sixtieths == 0
}

fn earned(right: usize, partly: u32) -> String {
    plain_number(questions_earned(right, partly))
}

#[expect(clippy::cast_precision_loss, reason = "a form has far fewer questions than 2^52")]
fn questions_earned(right: usize, partly: u32) -> f64 {
    right as f64 + f64::from(partly) / f64::from(Share::OF)
}

/// What was earned in percent of all. Sixtieths are summed before anything is divided, so that parts that make up a whole
/// question meet a cut exactly.
#[expect(clippy::cast_precision_loss, reason = "a form has far fewer questions than 2^52")]
fn percent(right: usize, partly: u32, asked: usize) -> f64 {
    if asked == 0 {
        return 0.0;
    }
    let sixtieths = right * Share::OF as usize + partly as usize;
    100.0 * sixtieths as f64 / (asked * Share::OF as usize) as f64
}

/// Whole right answers, and the sixtieths of those that are right in part.
fn sums<'g>(graded: impl Iterator<Item = &'g Graded>) -> (usize, u32) {
    graded.fold((0, 0), |(right, partly), question| match question.share {
        share if share.is_whole() => (right + 1, partly),
        share => (right, partly + share.sixtieths()),
    })
}

/// Grades a whole sitting.
#[must_use]
pub fn conclude(scheme: &Scheme, graded: &[Graded]) -> Outcome {
    let parts: Vec<PartOutcome> = scheme
        .parts
        .iter()
        .map(|part| {
            let of_part = || graded.iter().filter(|question| question.competence == part.competence);
            let ((right, partly), asked) = (sums(of_part()), of_part().count());
            let missed = of_part().any(Graded::is_safety_miss);
            let passed = asked > 0 && percent(right, partly, asked) >= part.cut_percent && !missed;
            let competence = part.competence.clone();
            PartOutcome { competence, right, partly, asked, cut_percent: part.cut_percent, passed }
        })
        .collect();
    let (right, partly) = sums(graded.iter());
    let missed = graded.iter().filter(|question| question.is_safety_miss());
    let safety_misses: Vec<u32> = missed.map(|question| question.position).collect();
    let passed = safety_misses.is_empty()
        && !graded.is_empty()
        && percent(right, partly, graded.len()) >= scheme.cut_percent
        && parts.iter().all(|part| part.passed);
    Outcome { right, partly, asked: graded.len(), cut_percent: scheme.cut_percent, parts, safety_misses, passed }
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
            attempts_allowed: 3,
            attempts_within_days: 90,
            prerequisites: Vec::new(),
            decided_by: Vec::new(),
            practical: Vec::new(),
            invigilated: false,
            parts: vec![part("fire"), part("lamps")],
        }
    }

    fn graded(answers: &[(bool, bool)]) -> Vec<Graded> {
        let question = |(position, (mandatory, correct)): (u32, &(bool, bool))| Graded {
            position,
            competence: if *mandatory { "fire" } else { "lamps" }.into(),
            mandatory: *mandatory,
            share: Share::whole_if(*correct),
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
    fn enough_in_every_part_is_not_enough_in_all() {
        // Four of four and two of four are 75 % of eight; the scheme then asks for more than that.
        let mut answers = vec![(true, true); 4];
        answers.extend([(false, true), (false, true), (false, false), (false, false)]);
        assert!(conclude(&scheme(), &graded(&answers)).passed);
        let outcome = conclude(&Scheme { cut_percent: 80.0, ..scheme() }, &graded(&answers));
        assert!(outcome.parts.iter().all(|part| part.passed) && !outcome.passed);
    }

    /// Eight questions of which each of the last four earns this much.
    fn in_part(mandatory: bool, share: Share) -> Outcome {
        let mut graded = graded(&[[(true, true); 4], [(false, true); 4]].concat());
        let of = |question: &&mut Graded| question.mandatory == mandatory;
        graded.iter_mut().filter(of).for_each(|question| question.share = share);
        conclude(&scheme(), &graded)
    }

    #[test]
    fn parts_add_up_exactly_and_meet_a_cut() {
        // Three times two thirds are two questions: 75 % of eight are six.
        let mut graded = graded(&[[(true, true); 4], [(false, false); 4]].concat());
        graded[4..7].iter_mut().for_each(|question| question.share = Share::by_part(2, 0, 3));
        let outcome = conclude(&scheme(), &graded);
        assert_eq!((outcome.right, outcome.partly, outcome.passed), (4, 120, true));
        assert!((outcome.score_percent() - 75.0).abs() < f64::EPSILON, "{}", outcome.score_percent());
        assert_eq!((outcome.earned(), outcome.parts[1].earned()), ("6".to_owned(), "2".to_owned()));
        graded[6].share = Share::by_part(1, 0, 3);
        assert!(!conclude(&scheme(), &graded).passed, "a third less is below the cut");
        assert_eq!(in_part(false, Share::by_part(1, 0, 2)).earned(), "6");
    }

    #[test]
    fn a_part_is_not_enough_where_somebody_can_be_hurt() {
        let outcome = in_part(true, Share::by_part(5, 0, 6));
        assert_eq!((outcome.safety_misses.len(), outcome.passed), (4, false));
    }

    #[test]
    fn an_outcome_on_record_reads_back_and_looks_as_it_did() {
        let before = r#"{"right":3,"asked":4,"cut_percent":75.0,"parts":[{"competence":"fire","right":3,"asked":4,"cut_percent":50.0,"passed":true}],"safety_misses":[],"passed":true}"#;
        let outcome: Outcome = serde_json::from_str(before).expect("it was written before there were parts");
        assert_eq!((outcome.partly, outcome.earned()), (0, "3".to_owned()));
        assert_eq!(serde_json::to_string(&outcome).expect("plain data"), before);
        let whole = in_part(false, Share::by_part(1, 0, 3));
        let json = serde_json::to_string(&whole).expect("plain data");
        assert_eq!(serde_json::from_str::<Outcome>(&json).expect("its own"), whole);
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
