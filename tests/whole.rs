//! Every test that needs more than one package, in one binary.

mod bank;
mod reference;
mod store;
mod support;
