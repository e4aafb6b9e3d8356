//! What regenerations that come now and then mean for an engine's measured emission.
//!
//! Arithmetic of a rule only; it certifies no engine. Defer to the current text of the rule.

/// How far one test result lies from the average over all work. All in the unit of the two results.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Adjustment {
    /// The average over work with and without regeneration.
    pub average: f64,
    /// What a result without regeneration is raised by.
    pub upward: f64,
    /// What a result with regeneration is lowered by.
    pub downward: f64,
}

/// The adjustment for a result with regeneration, one without (same unit, at least 0) and the share of work with one
/// (0 to 1). Source: 40 CFR 1039.525 (2015 text): `EFA = F EFH + (1 - F) EFL`.
#[must_use]
pub fn regeneration_adjustment(with: f64, without: f64, share_of_work: f64) -> Adjustment {
    let average = share_of_work * with + (1.0 - share_of_work) * without;
    Adjustment { average, upward: average - without, downward: with - average }
}
