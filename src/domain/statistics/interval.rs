//! The interval in which a true share lies, from how often something was seen.

/// The standard normal quantile of 97.5 %: both tails of a 95 % interval leave 2.5 %.
const Z: f64 = 1.959_963_984_540_054;

/// A share's interval, both ends from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

impl Interval {
    /// Both ends in whole percent, rounded outwards: "40 to 90 %".
    #[must_use]
    pub fn words(self) -> String {
        format!("{:.0} to {:.0} %", (100.0 * self.low).floor(), (100.0 * self.high).ceil())
    }
}

/// The 95 % score interval of a share: `earned` of `asked`. What is earned may hold parts of a question, and lies from 0 to
/// `asked`. Nothing when nothing was asked.
///
/// Source: E. B. Wilson 1927, J. Am. Stat. Assoc. 22:209-212; method 3 of R. G. Newcombe 1998, Stat. Med. 17:857-872.
#[must_use]
#[expect(clippy::cast_precision_loss, reason = "far fewer questions than 2^52")]
pub fn wilson_95(earned: f64, asked: usize) -> Option<Interval> {
    if asked == 0 {
        return None;
    }
    let n = asked as f64;
    let share = (earned / n).clamp(0.0, 1.0);
    let middle = share + Z * Z / (2.0 * n);
    let half = Z * libm::sqrt(share * (1.0 - share) / n + Z * Z / (4.0 * n * n));
    let whole = 1.0 + Z * Z / n;
    Some(Interval { low: ((middle - half) / whole).max(0.0), high: ((middle + half) / whole).min(1.0) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(earned: f64, asked: usize, low: f64, high: f64) {
        let found = wilson_95(earned, asked).unwrap();
        assert!((found.low - low).abs() < 5e-5 && (found.high - high).abs() < 5e-5, "{earned} of {asked}: {found:?}");
    }

    #[test]
    fn the_published_intervals_come_out() {
        // Source: R. G. Newcombe 1998, Stat. Med. 17:857-872, table I, method 3. The three cases are from memory and were
        // recomputed; not confirmed against the table.
        check(81.0, 263, 0.2553, 0.3662);
        check(15.0, 148, 0.0624, 0.1605);
        check(0.0, 20, 0.0, 0.1611);
    }

    #[test]
    fn ends_are_told_in_whole_percent() {
        assert_eq!(wilson_95(0.0, 20).unwrap().words(), "0 to 17 %");
        assert_eq!(wilson_95(20.0, 20).unwrap().words(), "83 to 100 %");
        assert_eq!(wilson_95(0.0, 0), None);
    }

    proptest! {
        #[test]
        fn the_share_lies_inside_and_more_questions_narrow_it(right in 0usize..=40, more in 0usize..=40, times in 2usize..6) {
            let asked = right + more;
            prop_assume!(asked > 0);
            #[expect(clippy::cast_precision_loss, reason = "small")]
            let as_f64 = |count: usize| count as f64;
            let share = as_f64(right) / as_f64(asked);
            let one = wilson_95(as_f64(right), asked).unwrap();
            prop_assert!(one.low <= share + 1e-12 && share <= one.high + 1e-12);
            let many = wilson_95(as_f64(right * times), asked * times).unwrap();
            prop_assert!(many.high - many.low < one.high - one.low);
            // Right and wrong change places: the interval is mirrored.
            let mirrored = wilson_95(as_f64(more), asked).unwrap();
            prop_assert!((mirrored.low - (1.0 - one.high)).abs() < 1e-12);
        }
    }
}
