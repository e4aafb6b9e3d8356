//! The tell-tales an operator sees, and sets of them.
//!
//! Never invents a registered symbol number: each lamp is known by its word and the colour its meaning has by ISO 2575.

use serde::{Deserialize, Serialize};

/// A tell-tale on the machine's panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Lamp {
    /// Exhaust gas is hot (amber).
    ExhaustHot,
    /// The filter wants attention (amber).
    Filter,
    /// General warning (amber).
    Warning,
    /// Stop the machine (red).
    Stop,
    /// Active regeneration is held back by the operator's switch (amber).
    Inhibit,
}

impl Lamp {
    /// Every lamp, in the order a panel shows them.
    pub const ALL: [Self; 5] = [Self::ExhaustHot, Self::Filter, Self::Warning, Self::Stop, Self::Inhibit];

    /// The lamp's word in files and templates.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::ExhaustHot => "exhaust_hot",
            Self::Filter => "filter",
            Self::Warning => "warning",
            Self::Stop => "stop",
            Self::Inhibit => "inhibit",
        }
    }

    /// The lamp's name as a technician reads it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ExhaustHot => "exhaust-hot lamp",
            Self::Filter => "filter lamp",
            Self::Warning => "amber warning lamp",
            Self::Stop => "red stop lamp",
            Self::Inhibit => "inhibit lamp",
        }
    }

    /// Red means danger, amber means attention (ISO 2575, IEC 60073).
    #[must_use]
    pub const fn is_red(self) -> bool {
        matches!(self, Self::Stop)
    }

    /// Finds a lamp by its word in files.
    #[must_use]
    pub fn from_id(id: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|lamp| lamp.id() == id)
    }

    const fn bit(self) -> u8 {
        1 << self as u8
    }
}

/// A set of lit lamps.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(from = "Vec<Lamp>", into = "Vec<Lamp>")]
pub struct LampSet(u8);

impl LampSet {
    /// No lamp lit.
    pub const NONE: Self = Self(0);

    /// This set with one more lamp.
    #[must_use]
    pub const fn with(self, lamp: Lamp) -> Self {
        Self(self.0 | lamp.bit())
    }

    /// All lamps of both sets.
    #[must_use]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether the lamp is lit.
    #[must_use]
    pub const fn contains(self, lamp: Lamp) -> bool {
        self.0 & lamp.bit() != 0
    }

    /// Whether every lamp is out.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The lit lamps in panel order.
    pub fn iter(self) -> impl Iterator<Item = Lamp> {
        Lamp::ALL.into_iter().filter(move |lamp| self.contains(*lamp))
    }
}

impl From<Vec<Lamp>> for LampSet {
    fn from(lamps: Vec<Lamp>) -> Self {
        lamps.into_iter().collect()
    }
}

impl From<LampSet> for Vec<Lamp> {
    fn from(set: LampSet) -> Self {
        set.iter().collect()
    }
}

impl FromIterator<Lamp> for LampSet {
    fn from_iter<I: IntoIterator<Item = Lamp>>(lamps: I) -> Self {
        lamps.into_iter().fold(Self::NONE, Self::with)
    }
}
