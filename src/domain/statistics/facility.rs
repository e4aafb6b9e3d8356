//! How often a question is answered rightly: its facility, as far as the answers so far tell.

/// How many answers the expectation from before weighs; chosen by us: a template needs as many answers of its own before they
/// count as much as what was expected of its level.
const EXPECTATION_WEIGHS: f64 = 20.0;

/// Answers to one template.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Answered {
    /// How many were right.
    pub right: u32,
    /// How many there were; at least as many.
    pub asked: u32,
}

/// The share of right answers to expect, from 0 to 1: what was seen, drawn towards `expected` (0 to 1) the more, the less was
/// seen.
///
/// Source: the mean of a beta distribution after binomial observations, (a + right) / (a + b + asked), in any textbook of
/// Bayesian statistics, such as Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.4. From memory, not confirmed.
#[must_use]
pub fn facility(seen: Answered, expected: f64) -> f64 {
    let (right, asked) = (f64::from(seen.right.min(seen.asked)), f64::from(seen.asked));
    (EXPECTATION_WEIGHS * expected + right) / (EXPECTATION_WEIGHS + asked)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_was_seen_counts_more_the_more_there_is() {
        // Worked by hand from the formula: (20 * 0.75 + 0) / 20, (15 + 10) / 40, (15 + 100) / 220.
        for (right, asked, wanted) in [(0, 0, 0.75), (10, 20, 0.625), (100, 200, 115.0 / 220.0)] {
            let found = facility(Answered { right, asked }, 0.75);
            assert!((found - wanted).abs() < 1e-12, "{right} of {asked}: {found}");
        }
    }

    proptest! {
        #[test]
        fn it_lies_between_what_was_expected_and_what_was_seen(right in 0u32..500, wrong in 0u32..500, expected in 0.0..=1.0f64) {
            let asked = right + wrong;
            prop_assume!(asked > 0);
            let share = f64::from(right) / f64::from(asked);
            let found = facility(Answered { right, asked }, expected);
            prop_assert!(found >= share.min(expected) - 1e-12 && found <= share.max(expected) + 1e-12);
        }
    }
}
