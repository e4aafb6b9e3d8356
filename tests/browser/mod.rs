//! The main paths in a real browser, with scripts and without.

mod bench;
mod driver;
mod invigilated;
mod invitation;
mod large_letters;
mod new_hire;
mod observed;
mod overlaps;
mod paper;
mod printed;
mod signed_out;
mod trainer;
mod two_devices;
mod who_may_go;
