//! What must hold when the machine under the program does not: the real program, ended at any moment.

mod drill;
mod kills;
mod serving;
