//! The four roles.

use serde::{Deserialize, Serialize};
use std::fmt;

/// What somebody is here for. One role each.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Learns, practises, sits examinations.
    Technician,
    /// Learns like a technician, writes templates, goes through what was missed with people.
    Trainer,
    /// Decides who may be sent to which job.
    ServiceManager,
    /// Sets the program up and brings people in.
    Administrator,
}

impl Role {
    /// Every role, in the order in which lists show them.
    pub const ALL: [Self; 4] = [Self::Technician, Self::Trainer, Self::ServiceManager, Self::Administrator];

    /// The role's name in the database, in addresses and in a roster.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Technician => "technician",
            Self::Trainer => "trainer",
            Self::ServiceManager => "service_manager",
            Self::Administrator => "administrator",
        }
    }

    /// The role's name for a reader.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Technician => "technician",
            Self::Trainer => "trainer",
            Self::ServiceManager => "service manager",
            Self::Administrator => "administrator",
        }
    }

    /// Finds a role by its id or by its name, whatever the case: `service_manager`, `Service manager`.
    #[must_use]
    pub fn from_id(text: &str) -> Option<Self> {
        let folded = text.trim().to_lowercase();
        Self::ALL.into_iter().find(|role| folded == role.id() || folded == role.name())
    }
}

impl fmt::Display for Role {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_role_is_found_by_what_people_write() {
        for role in Role::ALL {
            assert_eq!(Role::from_id(role.id()), Some(role));
            assert_eq!(Role::from_id(&role.name().to_uppercase()), Some(role));
        }
        assert_eq!(Role::from_id(" Service manager "), Some(Role::ServiceManager));
        assert_eq!(Role::from_id("manager"), None);
        assert_eq!(Role::from_id(""), None);
    }

    proptest! {
        #[test]
        fn any_text_is_a_role_or_none(text in ".{0,30}", near in "[ a-zA-Z_]{0,20}") {
            for text in [text, near] {
                let found = Role::from_id(&text);
                prop_assert!(found.is_none_or(|role| Role::from_id(role.id()) == Some(role)));
            }
        }
    }
}
