//! `/qualified`: who may be sent to which work today, as a list and as a file, and each person's record.

mod export;
mod filter;
mod list;
mod person;

pub use export::export;
pub use list::list;
pub use person::{person, sitting};
