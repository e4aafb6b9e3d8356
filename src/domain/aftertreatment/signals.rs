//! What a machine says about its filter, in the words of its network: lamp, status, regeneration, what holds it back.
//!
//! Names the raw values of one message (SAE J1939 parameter group 64892) and nothing else: it decides nothing, knows no
//! log, no profile and no time.
//! Source of places and values: public decoders of SAE J1939-71, read; what is from memory says so beside it.

mod message;

pub use message::{FilterMessage, InhibitReason, Unsaid};

use serde::{Deserialize, Serialize};

/// Why a raw value says nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, thiserror::Error)]
#[serde(rename_all = "snake_case")]
pub enum Silent {
    /// The sender says that it cannot tell because something is broken.
    #[error("the machine reports an error in place of a value")]
    Error,
    /// A value to which nobody has given a meaning.
    #[error("the value {0} has no meaning")]
    Unknown(u8),
}

/// Gives an enum its raw values: `ALL`, `raw`, `from_raw` and `word`. A raw value named after `error` is the sender's
/// word for "broken"; one that nothing names has no meaning.
macro_rules! signal {
    ($of:ident, $what:literal, { $($variant:ident = $raw:literal, $word:literal;)+ } $(error $broken:literal)?) => {
        impl $of {
            #[doc = concat!("Every ", $what, ".")]
            pub const ALL: [Self; [$(Self::$variant),+].len()] = [$(Self::$variant),+];

            #[doc = concat!("The raw value that says this ", $what, ".")]
            #[must_use]
            pub const fn raw(self) -> u8 {
                match self { $(Self::$variant => $raw,)+ }
            }

            #[doc = concat!("The ", $what, " that a raw value says.")]
            ///
            /// # Errors
            /// When the sender reports an error, or the value has no meaning.
            pub const fn from_raw(raw: u8) -> Result<Self, Silent> {
                match raw {
                    $($raw => Ok(Self::$variant),)+
                    $($broken => Err(Silent::Error),)?
                    other => Err(Silent::Unknown(other)),
                }
            }

            #[doc = concat!("The word of this ", $what, " in files.")]
            #[must_use]
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)+ }
            }

            #[doc = concat!("Finds the ", $what, " by its word in files.")]
            #[must_use]
            pub fn from_word(word: &str) -> Option<Self> {
                Self::ALL.into_iter().find(|each| each.word() == word)
            }
        }
    };
}

/// What the filter lamp is told to do (SPN 3697, 3 bits).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FilterLamp {
    /// Dark.
    Off,
    /// Lit.
    On,
    /// Blinking once a second.
    Blinking,
    /// Nobody says.
    #[default]
    NotAvailable,
}

signal!(FilterLamp, "state of the filter lamp", {
    Off = 0, "off";
    On = 1, "on";
    Blinking = 4, "blinking";
    NotAvailable = 7, "not_available";
} error 6);

/// What the exhaust-hot lamp is told to do (SPN 3698, 3 bits).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ExhaustHotLamp {
    /// Dark.
    Off,
    /// Lit.
    On,
    /// Nobody says.
    #[default]
    NotAvailable,
}

signal!(ExhaustHotLamp, "state of the exhaust-hot lamp", {
    Off = 0, "off";
    On = 1, "on";
    NotAvailable = 7, "not_available";
} error 6);

/// How urgently the filter asks for a regeneration (SPN 3701, 3 bits).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RegenerationStatus {
    /// None is needed.
    NotNeeded,
    /// Needed, lowest level.
    NeededLowest,
    /// Needed, moderate level.
    NeededModerate,
    /// Needed, highest level.
    NeededHighest,
    /// Nobody says.
    #[default]
    NotAvailable,
}

signal!(RegenerationStatus, "regeneration status", {
    NotNeeded = 0, "not_needed";
    NeededLowest = 1, "needed_lowest";
    NeededModerate = 2, "needed_moderate";
    NeededHighest = 3, "needed_highest";
    NotAvailable = 7, "not_available";
} error 6);

/// Whether an active regeneration runs (SPN 3700, 2 bits). Here all four raw values have a meaning.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ActiveRegeneration {
    /// It does not run.
    NotActive,
    /// It runs.
    Active,
    /// It is needed and about to begin.
    Needed,
    /// Nobody says.
    #[default]
    NotAvailable,
}

signal!(ActiveRegeneration, "state of the active regeneration", {
    NotActive = 0, "not_active";
    Active = 1, "active";
    Needed = 2, "needed";
    NotAvailable = 3, "not_available";
});

/// Yes, no, or nobody says (2 bits; the fourth raw value, 2, is an error).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Triple {
    /// No.
    No,
    /// Yes.
    Yes,
    /// Nobody says.
    #[default]
    NotAvailable,
}

signal!(Triple, "answer", {
    No = 0, "no";
    Yes = 1, "yes";
    NotAvailable = 3, "not_available";
} error 2);

impl Triple {
    /// The answer as yes or no, when there is one.
    #[must_use]
    pub const fn known(self) -> Option<bool> {
        match self {
            Self::No => Some(false),
            Self::Yes => Some(true),
            Self::NotAvailable => None,
        }
    }
}

impl From<bool> for Triple {
    fn from(yes: bool) -> Self {
        if yes { Self::Yes } else { Self::No }
    }
}
