//! Every test that needs more than one package, in one binary.

mod audit;
mod bank;
mod browser;
mod certificate;
mod cli;
mod demo;
mod exchange;
mod mail;
mod pages;
mod permissions;
mod reference;
mod simulation;
mod store;
mod support;
mod tidy;
