//! The program on the command line.

mod people;
