//! Source: 40 CFR 1039.525, infrequent regeneration adjustment factors, worked example (2015 text).

use super::close;
use sootmark::domain::aftertreatment::regeneration_adjustment::regeneration_adjustment;

#[test]
fn the_rules_own_example() {
    // EFL 0.10, EFH 0.50, F 0.1: EFA 0.14, upward 0.04, downward 0.36.
    let found = regeneration_adjustment(0.50, 0.10, 0.1);
    close(found.average, 0.14, 1e-12);
    close(found.upward, 0.04, 1e-12);
    close(found.downward, 0.36, 1e-12);
}
