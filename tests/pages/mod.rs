//! The pages, as a reader meets them.

mod look;
