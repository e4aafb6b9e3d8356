//! One folder per area: an address `/people/...` leads to `pages/people`, `templates/pages/people` and its tests.
//!
//! Handlers and view models only: what is done is in [`crate::actions`], who may reach it in [`super::routes`].

pub mod account;
pub mod assets;
pub mod assignments;
pub mod bench;
pub mod branches;
pub mod calendar;
pub mod check;
pub mod debriefs;
pub mod decisions;
pub mod examine;
pub mod forgotten;
pub mod home;
pub mod invigilate;
pub mod invitation;
pub mod issuer;
pub mod keys;
pub mod learn;
pub mod letters;
pub mod machines;
pub mod observe;
pub mod one_time_codes;
pub mod people;
pub mod practise;
pub mod qualified;
pub mod record;
pub mod refreshers;
pub mod sessions;
pub mod sign_in;
pub mod state;
pub mod templates;
