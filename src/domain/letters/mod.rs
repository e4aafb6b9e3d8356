//! Which kinds of letters there are, which of them somebody may refuse, and from when a letter is due.
//!
//! Never writes a letter and never knows who gets it: kinds and moments only.

mod due;

pub use due::{DIGEST_FROM_HOUR, DUE_DAY_DAYS, EXPIRY_DAYS, REFRESHER_DAYS, digest_is_due, threshold};

use serde::{Deserialize, Serialize};

/// A kind of letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A link to choose a password.
    Invitation,
    /// A link to choose another password.
    Password,
    /// How an examination went.
    Result,
    /// What was decided about a certificate.
    Decision,
    /// Something to do by a day.
    Assignment,
    /// A certificate ends soon.
    Expiry,
    /// A day comes near, or an examination waits.
    Reminder,
    /// The week of a branch, for those who look after it.
    Digest,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 8] = [
        Self::Invitation,
        Self::Password,
        Self::Result,
        Self::Decision,
        Self::Assignment,
        Self::Expiry,
        Self::Reminder,
        Self::Digest,
    ];

    /// Its word in the outbox, in forms and in addresses.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::Invitation => "invitation",
            Self::Password => "password",
            Self::Result => "result",
            Self::Decision => "decision",
            Self::Assignment => "assignment",
            Self::Expiry => "expiry",
            Self::Reminder => "reminder",
            Self::Digest => "digest",
        }
    }

    /// Finds a kind by its word.
    #[must_use]
    pub fn from_id(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.id() == text)
    }

    /// What people call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Invitation => "invitation",
            Self::Password => "link for a forgotten password",
            Self::Result => "examination result",
            Self::Decision => "decision about a certificate",
            Self::Assignment => "assignment",
            Self::Expiry => "certificate ends soon",
            Self::Reminder => "reminder",
            Self::Digest => "week of the branch",
        }
    }

    /// Whether somebody may do without it. What was decided about a person, and what they were told to do, always reaches
    /// them.
    #[must_use]
    pub const fn may_be_refused(self) -> bool {
        matches!(self, Self::Expiry | Self::Reminder | Self::Digest)
    }
}
