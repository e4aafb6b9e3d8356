//! Where a quantity that is followed step by step passes through a value: a root between two moments.
//!
//! Never looks outside the two moments it is given, and needs opposite signs at them.

use super::burning::{Burning, Passage};

/// Moments closer than this, in s, are the same. Chosen by us, far below the second that people read.
const SAME_MOMENT_S: f64 = 1.0e-9;
const MOST_TRIES: u32 = 100;

/// The moment between `from` and `to` at which `of` is 0, given its values there, which differ in sign (or one is 0).
///
/// False position with halved weights (the Illinois rule), which needs no derivative and never leaves the bracket.
pub(super) fn root(from: (f64, f64), to: (f64, f64), of: impl Fn(f64) -> f64) -> f64 {
    let ((mut low, mut at_low), (mut high, mut at_high)) = (from, to);
    if at_low == 0.0 {
        return low;
    }
    let mut last_side = 0_i8;
    for _ in 0..MOST_TRIES {
        if at_high == 0.0 || high - low < SAME_MOMENT_S {
            break;
        }
        let middle = ((low * at_high - high * at_low) / (at_high - at_low)).clamp(low, high);
        let value = of(middle);
        if value == 0.0 {
            return middle;
        }
        let side = if (value > 0.0) == (at_low > 0.0) { -1 } else { 1 };
        if side < 0 {
            (low, at_low) = (middle, value);
            if last_side < 0 {
                at_high /= 2.0;
            }
        } else {
            (high, at_high) = (middle, value);
            if last_side > 0 {
                at_low /= 2.0;
            }
        }
        last_side = side;
    }
    high
}

/// A turning point this close to an end of a step, in s, is that end. Chosen by us.
const AT_ONCE_S: f64 = 1.0e-6;

/// Soot on its way through one step of burning.
#[derive(Clone, Copy, Debug)]
pub(super) struct Leg<'b, 'p> {
    /// What it lives under.
    pub(super) burning: &'b Burning<'p>,
    /// Beginning of the step, in seconds from the beginning of the approach.
    pub(super) from_s: f64,
    /// End of the step.
    pub(super) to_s: f64,
    /// Soot load in percent at its beginning.
    pub(super) soot_percent: f64,
    /// Soot that comes, in percent of full load each second.
    pub(super) flow_per_s: f64,
}

impl Leg<'_, '_> {
    /// What the whole step does.
    pub(super) fn passage(&self) -> Passage {
        self.burning.passage(self.from_s, self.to_s)
    }

    /// The moment at which soot turns from rising to falling or back, if it could be beyond one of the levels then and back
    /// before anybody looked. There is at most one as long as the rate only rises or only falls during the step.
    pub(super) fn turns(&self, step: &Passage, mut levels: impl Iterator<Item = f64>) -> Option<f64> {
        let reach = (self.flow_per_s * (self.to_s - self.from_s)).max(self.soot_percent * step.burnt);
        if levels.all(|level| (level - self.soot_percent).abs() > reach) {
            return None;
        }
        let pace = |t: f64| self.flow_per_s - self.burning.rate_per_s(t) * self.soot(t);
        let paces = (pace(self.from_s), pace(self.to_s));
        if paces.0 * paces.1 >= 0.0 {
            return None;
        }
        let at_s = root((self.from_s, paces.0), (self.to_s, paces.1), pace);
        (at_s - self.from_s > AT_ONCE_S && self.to_s - at_s > AT_ONCE_S).then_some(at_s)
    }

    /// The moment at which soot is at a level that lies between the loads at the two ends.
    pub(super) fn meets(&self, level: f64, end_percent: f64) -> f64 {
        let ends = ((self.from_s, self.soot_percent - level), (self.to_s, end_percent - level));
        root(ends.0, ends.1, |t| self.soot(t) - level)
    }

    fn soot(&self, at_s: f64) -> f64 {
        self.burning.passage(self.from_s, at_s).after(self.soot_percent, self.flow_per_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_with_a_closed_form_are_found() {
        let check = |of: fn(f64) -> f64, from: f64, to: f64, expected: f64| {
            let found = root((from, of(from)), (to, of(to)), of);
            assert!((found - expected).abs() < 2.0 * SAME_MOMENT_S, "{found} should be {expected}");
        };
        check(|t| t * t - 2.0, 0.0, 2.0, 2.0_f64.sqrt());
        check(|t| (-t).exp() - 0.5, 0.0, 100.0, 2.0_f64.ln());
        check(|t| 3.0 - t, 0.0, 3.0, 3.0);
        check(|t| t, 0.0, 3.0, 0.0);
    }
}
