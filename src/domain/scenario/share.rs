//! The share of a question that an answer earns, kept as a whole number so that sums and replays are exact.
//!
//! Never a floating-point number inside: thirds of a question add up to a whole one.

use serde::{Deserialize, Serialize};

/// A share of one question, in sixtieths: a sixtieth divides into halves, thirds, quarters, fifths and sixths, and a
/// question has at most six options.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Share(u8);

impl Share {
    /// Sixtieths in a whole question.
    pub const OF: u32 = 60;
    /// Nothing of it.
    pub const NOTHING: Self = Self(0);
    /// All of it.
    pub const WHOLE: Self = Self(60);

    /// All or nothing.
    #[must_use]
    pub const fn whole_if(right: bool) -> Self {
        if right { Self::WHOLE } else { Self::NOTHING }
    }

    /// What is earned part by part: each right option that is chosen counts, each wrong one takes as much away, and less
    /// than nothing is nothing. So whoever ticks everything gains nothing by it. `rights` is 1 to 6; chosen by us.
    #[must_use]
    pub fn by_part(chosen_right: usize, chosen_wrong: usize, rights: usize) -> Self {
        let parts = chosen_right.saturating_sub(chosen_wrong).min(rights);
        let sixtieths = parts * 60 / rights.max(1);
        Self(u8::try_from(sixtieths).unwrap_or(60))
    }

    /// In sixtieths, 0 to 60.
    #[must_use]
    pub const fn sixtieths(self) -> u32 {
        self.0 as u32
    }

    /// In points, 0 to 1.
    #[must_use]
    pub fn points(self) -> f64 {
        f64::from(self.0) / 60.0
    }

    /// Whether it is all of it.
    #[must_use]
    pub const fn is_whole(self) -> bool {
        self.0 == Self::WHOLE.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_are_exact_and_ticking_everything_gains_nothing() {
        assert_eq!(Share::by_part(3, 0, 3), Share::WHOLE);
        assert_eq!(Share::by_part(2, 0, 3).sixtieths(), 40);
        assert_eq!(Share::by_part(2, 1, 3).sixtieths(), 20);
        assert_eq!(Share::by_part(0, 2, 3), Share::NOTHING);
        assert_eq!(Share::by_part(2, 2, 2), Share::NOTHING, "two of four are right and all are ticked");
        for rights in 1..=6 {
            let one = Share::by_part(1, 0, rights).sixtieths();
            assert_eq!(one * u32::try_from(rights).unwrap(), Share::OF, "{rights} equal parts make a whole");
        }
    }
}
