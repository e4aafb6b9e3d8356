//! One moment at one machine: readings, what the operator has done, and where the machine stands.
//!
//! A situation holds only what can be seen or read; what follows from it is the judgement's.

use super::maps::Clamped;
use super::profile::Profile;
use serde::{Deserialize, Serialize};

/// What one question, one forecast or one reader asks about.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Situation {
    /// Soot load in percent of the profile's full load; at least 0, may exceed 100.
    pub soot_percent: f64,
    /// Ash load in percent; at least 0.
    pub ash_percent: f64,
    /// Filter outlet temperature in deg C.
    pub outlet_c: f64,
    /// Whether the engine runs.
    pub engine_running: bool,
    /// Engine speed in rpm.
    pub speed_rpm: f64,
    /// Engine load in percent.
    pub load_percent: f64,
    /// Whether the coolant is at working temperature.
    pub engine_warm: bool,
    /// Whether the machine stands still.
    pub standing: bool,
    /// Whether the park brake is on.
    pub park_brake: bool,
    /// Whether the drive is in neutral.
    pub neutral: bool,
    /// Whether the working attachment is on the ground.
    pub attachment_down: bool,
    /// Whether the inhibit switch is on.
    pub inhibit_on: bool,
    /// Active regenerations held back or broken off in a row.
    pub inhibits: u32,
    /// The regeneration that is running.
    pub regeneration: Regeneration,
    /// Engine hours since the last parked regeneration ended.
    pub hours_since_parked: f64,
    /// What the machine stands on.
    pub ground: Ground,
    /// How open the place is.
    pub enclosure: Enclosure,
    /// Whether somebody is near the exhaust outlet.
    pub people_near: bool,
    /// Whether fuel, dust or chaff lies near the exhaust outlet.
    pub fuel_near: bool,
    /// Whether something hangs over the exhaust outlet.
    pub overhead: bool,
}

impl Default for Situation {
    /// A warm machine at work on bare ground in the open with a clean filter.
    fn default() -> Self {
        Self {
            soot_percent: 0.0,
            ash_percent: 0.0,
            outlet_c: 250.0,
            engine_running: true,
            speed_rpm: 1800.0,
            load_percent: 40.0,
            engine_warm: true,
            standing: false,
            park_brake: false,
            neutral: false,
            attachment_down: false,
            inhibit_on: false,
            inhibits: 0,
            regeneration: Regeneration::None,
            hours_since_parked: 100.0,
            ground: Ground::BareSoil,
            enclosure: Enclosure::Open,
            people_near: false,
            fuel_near: false,
            overhead: false,
        }
    }
}

impl Situation {
    /// What is wrong with the numbers: each field that no machine can show, in words.
    #[must_use]
    pub fn problems(&self) -> Vec<String> {
        let checks = [
            ("soot_percent", self.soot_percent, 0.0, 250.0),
            ("ash_percent", self.ash_percent, 0.0, 250.0),
            ("outlet_c", self.outlet_c, -50.0, 1000.0),
            ("speed_rpm", self.speed_rpm, 0.0, 8000.0),
            ("load_percent", self.load_percent, 0.0, 125.0),
            ("hours_since_parked", self.hours_since_parked, 0.0, 1.0e6),
        ];
        checks
            .into_iter()
            .filter(|(_, value, low, high)| !(low..=high).contains(&value))
            .map(|(field, value, low, high)| format!("{field} is {value}; it must lie between {low} and {high}"))
            .collect()
    }

    /// Whether the conditions an interlock asks for are met.
    #[must_use]
    pub fn meets(&self, interlock: Interlock) -> bool {
        match interlock {
            Interlock::ParkBrake => self.park_brake,
            Interlock::Neutral => self.neutral,
            Interlock::Standing => self.standing,
            Interlock::EngineRunning => self.engine_running,
            Interlock::EngineWarm => self.engine_warm,
            Interlock::AttachmentDown => self.attachment_down,
            Interlock::InhibitOff => !self.inhibit_on,
        }
    }

    /// Steady outlet temperature in deg C at this load and speed, and whether the profile's map had to be clamped.
    #[must_use]
    pub fn steady_outlet_c(&self, profile: &Profile) -> Clamped {
        profile.outlet_c.at(self.load_percent, self.speed_rpm)
    }
}

/// A condition without which a parked regeneration will not start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Interlock {
    /// Machine stands still.
    Standing,
    /// Park brake on.
    ParkBrake,
    /// Drive in neutral.
    Neutral,
    /// Engine running.
    EngineRunning,
    /// Coolant at working temperature.
    EngineWarm,
    /// Working attachment on the ground.
    AttachmentDown,
    /// Inhibit switch off.
    InhibitOff,
}

/// A regeneration in progress.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Regeneration {
    /// None is running.
    #[default]
    None,
    /// An active one.
    Active,
    /// A parked one.
    Parked,
}

/// What the machine stands on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ground {
    /// Bare, level soil.
    #[default]
    BareSoil,
    /// Concrete or asphalt.
    Concrete,
    /// Gravel.
    Gravel,
    /// Stubble.
    Stubble,
    /// Dry grass.
    DryGrass,
    /// Straw or hay.
    Straw,
}

impl Ground {
    /// Whether hot gas or a hot surface can set it alight.
    #[must_use]
    pub const fn burns(self) -> bool {
        matches!(self, Self::Stubble | Self::DryGrass | Self::Straw)
    }
}

/// How open the place is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Enclosure {
    /// In the open.
    #[default]
    Open,
    /// Under a roof with open sides.
    OpenSided,
    /// In a closed building.
    Closed,
}
