//! What must hold when the machine under the program does not: the real program ended at any moment, two of them on one
//! database, a disk that is full or broken or loses its power, a mail server that hangs, a clock that jumps, a bit that flips.
//!
//! What a machine does not allow (mounting, tracing, PostgreSQL) is skipped, and the reason is printed.

mod at_once;
mod clocks;
mod disk;
mod drill;
mod flips;
mod injected;
mod kills;
mod letters;
mod migrating;
mod mutants;
mod nobody;
mod oracle;
mod power;
mod restarts;
mod servers;
mod serving;
mod turns;
