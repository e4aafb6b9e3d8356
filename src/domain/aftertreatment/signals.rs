//! What a machine says about its filter, in the words of its network: lamp, status, regeneration, what holds it back.
//!
//! Names the raw values of one message (SAE J1939 parameter group 64892) and nothing else: it decides nothing, knows no
//! log, no profile and no time.
//! Source of places and values: public decoders of SAE J1939-71, read; what is from memory says so beside it.

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

/// Why a regeneration is held back (2 bits each).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum InhibitReason {
    /// By the operator's switch.
    Switch,
    /// The drive is not in neutral. From memory, not confirmed: SPN 3708 at byte 4, bit 5.
    NotInNeutral,
    /// The park brake is not on.
    ParkBrakeOff,
    /// The exhaust is too cold.
    LowExhaustTemperature,
    /// Locked until the service workshop has been.
    PermanentLockout,
    /// The engine is not warm.
    EngineCold,
}

impl InhibitReason {
    /// Every reason, in the order of the message.
    pub const ALL: [Self; 6] = [
        Self::Switch,
        Self::NotInNeutral,
        Self::ParkBrakeOff,
        Self::LowExhaustTemperature,
        Self::PermanentLockout,
        Self::EngineCold,
    ];

    /// The number of the parameter (SPN).
    #[must_use]
    pub const fn spn(self) -> u32 {
        match self {
            Self::Switch => 3703,
            Self::NotInNeutral => 3708,
            Self::ParkBrakeOff => 3710,
            Self::LowExhaustTemperature => 3711,
            Self::PermanentLockout => 3715,
            Self::EngineCold => 3716,
        }
    }

    /// Where its two bits stand in the message.
    const fn place(self) -> Bits {
        match self {
            Self::Switch => Bits(3, 3, 2),
            Self::NotInNeutral => Bits(4, 5, 2),
            Self::ParkBrakeOff => Bits(5, 1, 2),
            Self::LowExhaustTemperature => Bits(5, 3, 2),
            Self::PermanentLockout => Bits(6, 3, 2),
            Self::EngineCold => Bits(6, 5, 2),
        }
    }

    /// The word in files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Switch => "switch",
            Self::NotInNeutral => "not_in_neutral",
            Self::ParkBrakeOff => "park_brake_off",
            Self::LowExhaustTemperature => "low_exhaust_temperature",
            Self::PermanentLockout => "permanent_lockout",
            Self::EngineCold => "engine_cold",
        }
    }

    /// The reason as a technician reads it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Switch => "the inhibit switch is on",
            Self::NotInNeutral => "the drive is not in neutral",
            Self::ParkBrakeOff => "the park brake is off",
            Self::LowExhaustTemperature => "the exhaust is too cold",
            Self::PermanentLockout => "it is locked until service has been",
            Self::EngineCold => "the engine is not warm",
        }
    }
}

/// The message in which a machine says how its filter is (parameter group 64892), as far as this project reads it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct FilterMessage {
    /// The filter lamp.
    pub lamp: FilterLamp,
    /// Whether soot burns by the heat of work (SPN 3699).
    pub passive: Triple,
    /// Whether an active regeneration runs (SPN 3700).
    pub active: ActiveRegeneration,
    /// How urgently a regeneration is asked for (SPN 3701).
    pub status: RegenerationStatus,
    /// Whether one is held back (SPN 3702).
    pub inhibited: Triple,
    /// Whether each reason holds one back, in the order of [`InhibitReason::ALL`].
    pub reasons: [Triple; 6],
    /// The exhaust-hot lamp.
    pub exhaust_hot: ExhaustHotLamp,
}

/// A parameter of the message that says nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unsaid {
    /// The number of the parameter (SPN).
    pub spn: u32,
    /// Why.
    pub why: Silent,
}

/// Byte and first bit, both counted from 1 as the standard does, and the number of bits.
#[derive(Clone, Copy)]
struct Bits(usize, u8, u8);

const LAMP: Bits = Bits(1, 1, 3);
const PASSIVE: Bits = Bits(2, 1, 2);
const ACTIVE: Bits = Bits(2, 3, 2);
const STATUS: Bits = Bits(2, 5, 3);
const INHIBITED: Bits = Bits(3, 1, 2);
const EXHAUST_HOT: Bits = Bits(7, 3, 3);

impl Bits {
    const fn mask(self) -> u8 {
        (1 << self.2) - 1
    }

    const fn get(self, message: &[u8; 8]) -> u8 {
        (message[self.0 - 1] >> (self.1 - 1)) & self.mask()
    }

    const fn put(self, message: &mut [u8; 8], raw: u8) {
        let shift = self.1 - 1;
        message[self.0 - 1] = (message[self.0 - 1] & !(self.mask() << shift)) | (raw << shift);
    }
}

impl FilterMessage {
    /// The parameter group of this message.
    pub const PGN: u32 = 64_892;

    /// Reads the message. A parameter that says nothing is taken as not available and listed.
    #[must_use]
    pub fn decode(message: &[u8; 8]) -> (Self, Vec<Unsaid>) {
        let mut unsaid = Vec::new();
        let read = Self {
            lamp: said(3697, FilterLamp::from_raw(LAMP.get(message)), &mut unsaid),
            passive: said(3699, Triple::from_raw(PASSIVE.get(message)), &mut unsaid),
            active: said(3700, ActiveRegeneration::from_raw(ACTIVE.get(message)), &mut unsaid),
            status: said(3701, RegenerationStatus::from_raw(STATUS.get(message)), &mut unsaid),
            inhibited: said(3702, Triple::from_raw(INHIBITED.get(message)), &mut unsaid),
            reasons: InhibitReason::ALL
                .map(|reason| said(reason.spn(), Triple::from_raw(reason.place().get(message)), &mut unsaid)),
            exhaust_hot: said(3698, ExhaustHotLamp::from_raw(EXHAUST_HOT.get(message)), &mut unsaid),
        };
        (read, unsaid)
    }

    /// The message as it is sent. What this project does not read is sent as not available (all bits set).
    #[must_use]
    pub fn encode(&self) -> [u8; 8] {
        let mut message = [0xFF; 8];
        LAMP.put(&mut message, self.lamp.raw());
        PASSIVE.put(&mut message, self.passive.raw());
        ACTIVE.put(&mut message, self.active.raw());
        STATUS.put(&mut message, self.status.raw());
        INHIBITED.put(&mut message, self.inhibited.raw());
        for (reason, answer) in InhibitReason::ALL.into_iter().zip(self.reasons) {
            reason.place().put(&mut message, answer.raw());
        }
        EXHAUST_HOT.put(&mut message, self.exhaust_hot.raw());
        message
    }

    /// Whether this reason holds a regeneration back.
    #[must_use]
    pub const fn reason(&self, reason: InhibitReason) -> Triple {
        self.reasons[reason as usize]
    }

    /// The reasons that hold a regeneration back now.
    pub fn held_back_by(&self) -> impl Iterator<Item = InhibitReason> {
        InhibitReason::ALL.into_iter().filter(|reason| self.reason(*reason) == Triple::Yes)
    }
}

fn said<T: Default>(spn: u32, read: Result<T, Silent>, unsaid: &mut Vec<Unsaid>) -> T {
    read.unwrap_or_else(|why| {
        unsaid.push(Unsaid { spn, why });
        T::default()
    })
}
