//! The model held against values from outside the project: one file per source, the source beside each value.
//!
//! Nothing here repeats a number of the model's own making as if it were measured; what is derived says so.

mod bai_2016;
mod bare_filter;
mod common_practice;
mod common_practice_judgement;
mod derived_kinetics;
mod duties;
mod forecast;
mod hazards;
mod integrator;
mod journeys;
mod observations;
mod pressure_drop;
mod regeneration_adjustment;
mod signals;
mod taught;
mod temperature_scales;

/// Fails unless `found` lies within a share of `expected`.
#[track_caller]
fn close(found: f64, expected: f64, relative: f64) {
    let error = (found - expected).abs() / expected.abs();
    assert!(error <= relative, "{found} should be {expected} within {relative}, but is off by {error:.2e}");
}
