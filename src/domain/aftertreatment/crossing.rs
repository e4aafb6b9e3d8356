//! Where a quantity that is followed step by step passes through a value: a root between two moments.
//!
//! Never looks outside the two moments it is given, and needs opposite signs at them.

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
