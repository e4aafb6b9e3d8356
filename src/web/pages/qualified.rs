//! `/qualified`: who may be sent to which work today, as a list and as a file, and each person's record.

mod compare;
mod export;
mod filter;
mod lapsing;
mod list;
mod person;
mod who;

pub use compare::compare;
pub use export::{export, export_xlsx};
pub use lapsing::lapsing;
pub use list::list;
pub use person::{history, person, sitting};
pub use who::who;
