//! Sootmark teaches, examines and records who does the right and safe thing with a diesel particulate filter.
//!
//! | layer | for | may use |
//! |---|---|---|
//! | [`domain`] | the filter model, scenarios, examinations, what they prove; pure | nobody |
//! | [`exchange`] | questions for other systems and from them, as QTI 3.0 packages; results, as xAPI statements; certificates, as signed files and PDFs; opens no file | domain |
//! | [`store`] | rows and queries on SQLite and PostgreSQL | domain |
//! | [`actions`] | one file per thing a person does: transaction, clock, record entry | domain, store, `mail::letter`, `exchange::credential` |
//! | [`mail`] | writing letters and sending what the outbox holds | store's outbox, `web::view` for the templates |
//! | [`web`] | pages: routes, guard, handlers, views; never rows | domain, store's reads, actions |
//! | [`cli`] | commands | all of the above |
//! | [`bank_files`] | the documents of a bank: built in, or of a folder | domain |
//! | [`demo`] | the invented organisation of `sootmark demo` | actions, `mail::transport`, domain, store's reads |
//! | [`config`], [`clock`] | settings; what time it is | nobody |

pub mod actions;
pub mod background;
pub mod bank_files;
pub mod cli;
pub mod clock;
pub mod config;
pub mod demo;
pub mod exchange;
pub mod mail;
pub mod store;
pub mod web;

pub use sootmark_domain as domain;
