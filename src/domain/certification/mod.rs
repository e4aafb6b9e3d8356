//! From a graded sitting to a certificate and what becomes of it, in the words of ISO/IEC 17024: the proposal that follows
//! from the scheme, the decision of somebody who did not train the person, the appeal, the certificate with its states,
//! and where a person stands in a competence because of all that.
//!
//! Everything is worked out from entries that are only ever added. Never decides by itself: a rule proposes, a person
//! decides.

pub mod assignment;
pub mod certificate;
pub mod decision;
pub mod proposal;
pub mod scope;
mod standing;
pub mod trigger;

#[cfg(test)]
mod model_tests;

pub use standing::{EXPIRING_WITHIN_DAYS, Evidence, Reason, Standing, Suspension};
