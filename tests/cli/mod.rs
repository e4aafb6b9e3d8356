//! The program on the command line.

mod demo;
mod people;
