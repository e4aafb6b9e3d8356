//! Who works with Sootmark: roles, what each role may do, and the few texts about a person that must be right before
//! anything is kept of them (name, e-mail address, password) or a branch (name).
//!
//! Never knows who is signed in, and never compares two people: the guard of the web and the actions do.

mod branch_name;
mod email;
mod name;
mod password;
mod permission;
mod role;

pub use branch_name::{BranchName, NotABranchName};
pub use email::{EmailAddress, EmailProblem};
pub use name::{NameProblem, PersonName};
pub use password::{LONGEST_PASSWORD, PasswordProblem, SHORTEST_PASSWORD, check_password};
pub use permission::{Permission, allows, brings_in, needs_one_time_codes};
pub use role::Role;
