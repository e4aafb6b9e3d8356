//! The message in which a machine says how its filter is, and the places of its parameters.
//!
//! Only moves bits: what a value means is the enums' of the parent module.

use super::{ActiveRegeneration, ExhaustHotLamp, FilterLamp, RegenerationStatus, Silent, Triple};
use serde::{Deserialize, Serialize};

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

/// Where a parameter stands: byte and first bit, both counted from 1 as the standard does, and the number of bits.
#[derive(Clone, Copy)]
struct Bits(usize, u8, u8);

/// Every parameter of the message that this project reads, with its place.
const PLACES: [(u32, Bits); 12] = [
    (3697, Bits(1, 1, 3)),
    (3699, Bits(2, 1, 2)),
    (3700, Bits(2, 3, 2)),
    (3701, Bits(2, 5, 3)),
    (3702, Bits(3, 1, 2)),
    (3703, Bits(3, 3, 2)),
    (3708, Bits(4, 5, 2)),
    (3710, Bits(5, 1, 2)),
    (3711, Bits(5, 3, 2)),
    (3715, Bits(6, 3, 2)),
    (3716, Bits(6, 5, 2)),
    (3698, Bits(7, 3, 3)),
];

impl Bits {
    const fn mask(self) -> u8 {
        (1 << self.2) - 1
    }

    const fn get(self, byte: u8) -> u8 {
        (byte >> (self.1 - 1)) & self.mask()
    }

    const fn put(self, message: &mut [u8; 8], raw: u8) {
        let shift = self.1 - 1;
        message[self.0 - 1] = (message[self.0 - 1] & !(self.mask() << shift)) | (raw << shift);
    }
}

impl FilterMessage {
    /// The parameter group of this message.
    pub const PGN: u32 = 64_892;

    /// The parameters of the message in its order, by number (SPN).
    pub fn spns() -> impl Iterator<Item = u32> {
        PLACES.into_iter().map(|(spn, _)| spn)
    }

    /// The raw values that these bytes of a message say, by number (SPN). A message that is cut says only what its
    /// bytes hold.
    pub fn raw_values(bytes: &[u8]) -> impl Iterator<Item = (u32, u8)> {
        PLACES.into_iter().filter_map(|(spn, place)| bytes.get(place.0 - 1).map(|byte| (spn, place.get(*byte))))
    }

    /// Reads the message. A parameter that says nothing is taken as not available and listed.
    #[must_use]
    pub fn decode(message: &[u8; 8]) -> (Self, Vec<Unsaid>) {
        let (mut read, mut unsaid) = (Self::default(), Vec::new());
        for (spn, raw) in Self::raw_values(message) {
            if let Err(why) = read.set(spn, raw) {
                unsaid.push(Unsaid { spn, why });
            }
        }
        (read, unsaid)
    }

    /// The message as it is sent. What this project does not read is sent as not available (all bits set).
    #[must_use]
    pub fn encode(&self) -> [u8; 8] {
        let mut message = [0xFF; 8];
        for (spn, place) in PLACES {
            if let Some(raw) = self.raw(spn) {
                place.put(&mut message, raw);
            }
        }
        message
    }

    /// Takes over what one parameter says; not available when it says nothing. A number (SPN) that is not in the
    /// message changes nothing.
    ///
    /// # Errors
    /// When the sender reports an error, or the value has no meaning.
    pub fn set(&mut self, spn: u32, raw: u8) -> Result<(), Silent> {
        match spn {
            3697 => put(&mut self.lamp, FilterLamp::from_raw(raw)),
            3698 => put(&mut self.exhaust_hot, ExhaustHotLamp::from_raw(raw)),
            3699 => put(&mut self.passive, Triple::from_raw(raw)),
            3700 => put(&mut self.active, ActiveRegeneration::from_raw(raw)),
            3701 => put(&mut self.status, RegenerationStatus::from_raw(raw)),
            3702 => put(&mut self.inhibited, Triple::from_raw(raw)),
            _ => match InhibitReason::ALL.into_iter().find(|reason| reason.spn() == spn) {
                Some(reason) => put(&mut self.reasons[reason as usize], Triple::from_raw(raw)),
                None => Ok(()),
            },
        }
    }

    /// The raw value that one parameter has; `None` when its number (SPN) is not in the message.
    #[must_use]
    pub fn raw(&self, spn: u32) -> Option<u8> {
        Some(match spn {
            3697 => self.lamp.raw(),
            3698 => self.exhaust_hot.raw(),
            3699 => self.passive.raw(),
            3700 => self.active.raw(),
            3701 => self.status.raw(),
            3702 => self.inhibited.raw(),
            _ => self.reason(InhibitReason::ALL.into_iter().find(|reason| reason.spn() == spn)?).raw(),
        })
    }

    /// The raw value that a word of a file means for one parameter, such as `blinking` for the filter lamp (SPN 3697).
    #[must_use]
    pub fn raw_of_word(spn: u32, word: &str) -> Option<u8> {
        match spn {
            3697 => FilterLamp::from_word(word).map(FilterLamp::raw),
            3698 => ExhaustHotLamp::from_word(word).map(ExhaustHotLamp::raw),
            3700 => ActiveRegeneration::from_word(word).map(ActiveRegeneration::raw),
            3701 => RegenerationStatus::from_word(word).map(RegenerationStatus::raw),
            _ => Triple::from_word(word).map(Triple::raw),
        }
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

/// Puts what was read in its place.
fn put<T: Default>(place: &mut T, read: Result<T, Silent>) -> Result<(), Silent> {
    let (value, told) = match read {
        Ok(value) => (value, Ok(())),
        Err(why) => (T::default(), Err(why)),
    };
    *place = value;
    told
}
