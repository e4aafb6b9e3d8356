//! What an operator does with the machine during a journey, as far as the filter's controller notices it.
//!
//! Never judges whether it was right: that is the judgement's.

use serde::{Deserialize, Serialize};

/// Something the operator does at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OperatorAction {
    /// Switches the engine on.
    KeyOn,
    /// Switches the engine off.
    KeyOff,
    /// Switches the inhibit on.
    InhibitOn,
    /// Switches the inhibit off.
    InhibitOff,
    /// Brings the machine to a stand.
    Stand,
    /// Drives off.
    Drive,
    /// Puts the park brake on.
    ParkBrakeOn,
    /// Takes the park brake off.
    ParkBrakeOff,
    /// Puts the drive in neutral.
    NeutralOn,
    /// Puts the drive in gear.
    NeutralOff,
    /// Rests the attachment on the ground.
    AttachmentDown,
    /// Lifts the attachment.
    AttachmentUp,
    /// Asks for a parked regeneration.
    StartParked,
    /// Breaks the parked regeneration off.
    BreakOffParked,
}

impl OperatorAction {
    /// Every action.
    pub const ALL: [Self; 14] = [
        Self::KeyOn,
        Self::KeyOff,
        Self::InhibitOn,
        Self::InhibitOff,
        Self::Stand,
        Self::Drive,
        Self::ParkBrakeOn,
        Self::ParkBrakeOff,
        Self::NeutralOn,
        Self::NeutralOff,
        Self::AttachmentDown,
        Self::AttachmentUp,
        Self::StartParked,
        Self::BreakOffParked,
    ];

    /// The word in files.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::KeyOn => "key_on",
            Self::KeyOff => "key_off",
            Self::InhibitOn => "inhibit_on",
            Self::InhibitOff => "inhibit_off",
            Self::Stand => "stand",
            Self::Drive => "drive",
            Self::ParkBrakeOn => "park_brake_on",
            Self::ParkBrakeOff => "park_brake_off",
            Self::NeutralOn => "neutral_on",
            Self::NeutralOff => "neutral_off",
            Self::AttachmentDown => "attachment_down",
            Self::AttachmentUp => "attachment_up",
            Self::StartParked => "start_parked",
            Self::BreakOffParked => "break_off_parked",
        }
    }

    /// Finds an action by its word in files.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|action| action.id() == id)
    }

    /// What was done, as a clause: "you switch the engine off".
    #[must_use]
    pub const fn clause(self) -> &'static str {
        match self {
            Self::KeyOn => "you switch the engine on",
            Self::KeyOff => "you switch the engine off",
            Self::InhibitOn => "you switch the inhibit on",
            Self::InhibitOff => "you switch the inhibit off",
            Self::Stand => "you bring the machine to a stand",
            Self::Drive => "you drive off",
            Self::ParkBrakeOn => "you put the park brake on",
            Self::ParkBrakeOff => "you take the park brake off",
            Self::NeutralOn => "you put the drive in neutral",
            Self::NeutralOff => "you put the drive in gear",
            Self::AttachmentDown => "you rest the attachment on the ground",
            Self::AttachmentUp => "you lift the attachment",
            Self::StartParked => "you ask for a parked regeneration",
            Self::BreakOffParked => "you break the parked regeneration off",
        }
    }
}
