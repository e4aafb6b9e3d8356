//! `/observe`: practical tasks at the machine: opened, marked step by step on a phone, reviewed, signed by both; and the
//! finished sheet, for whoever watched, for the person and for a service manager.
//!
//! Never shows one to another branch, and lets nobody but its assessor write in it.

mod fill;
mod finished;
mod list;
mod sign;

pub use fill::{save, show, step};
pub use finished::{of_person, own};
pub use list::{list, open};
pub use sign::{review, sign};

use crate::actions::observe::Assessor;
use crate::store::ObservationId;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;

const fn assessor(reader: &SignedIn) -> Assessor {
    Assessor { person: reader.person, branch: reader.branch }
}

fn number(id: &str) -> Result<ObservationId, PageError> {
    id.parse().map_err(|_| PageError::NotFound)
}
