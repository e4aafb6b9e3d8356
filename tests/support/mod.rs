//! What several tests need: a database, a running application, a small browser.

pub(crate) mod app;
pub(crate) mod certificates;
pub(crate) mod client;
pub(crate) mod cluster;
pub(crate) mod database;
pub(crate) mod observed;
pub(crate) mod program;
pub(crate) mod rows;
pub(crate) mod sittings;
pub(crate) mod tools;
