//! The words of the model's small vocabularies: how files write them and how a technician reads them.
//!
//! Lamps, hazards, signal words and ways of cleaning carry their words themselves.

use super::profile::{Coating, Way};
use super::situation::{Enclosure, Ground, Interlock, Regeneration};

/// Gives an enum its words: `ALL`, `id` (as serde writes it), `from_id` and `name`.
macro_rules! words {
    ($of:ident, $what:literal, { $($variant:ident = $id:literal, $name:literal;)+ }) => {
        impl $of {
            #[doc = concat!("Every ", $what, ".")]
            pub const ALL: [Self; [$(Self::$variant),+].len()] = [$(Self::$variant),+];

            #[doc = concat!("The ", $what, "'s word in files and templates.")]
            #[must_use]
            pub const fn id(self) -> &'static str {
                match self { $(Self::$variant => $id,)+ }
            }

            #[doc = concat!("Finds the ", $what, " by its word in files.")]
            #[must_use]
            pub fn from_id(id: &str) -> Option<Self> {
                Self::ALL.into_iter().find(|each| each.id() == id)
            }

            #[doc = concat!("The ", $what, " as a technician reads it.")]
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)+ }
            }
        }
    };
}

words!(Interlock, "interlock", {
    Standing = "standing", "machine standing still";
    ParkBrake = "park_brake", "park brake on";
    Neutral = "neutral", "drive in neutral";
    EngineRunning = "engine_running", "engine running";
    EngineWarm = "engine_warm", "engine at working temperature";
    AttachmentDown = "attachment_down", "attachment on the ground";
    InhibitOff = "inhibit_off", "inhibit switch off";
});

words!(Ground, "ground", {
    BareSoil = "bare_soil", "bare soil";
    Concrete = "concrete", "concrete";
    Gravel = "gravel", "gravel";
    Stubble = "stubble", "stubble";
    DryGrass = "dry_grass", "dry grass";
    Straw = "straw", "straw";
});

words!(Enclosure, "enclosure", {
    Open = "open", "in the open";
    OpenSided = "open_sided", "under a roof with open sides";
    Closed = "closed", "in a closed building";
});

words!(Regeneration, "running regeneration", {
    None = "none", "no regeneration running";
    Active = "active", "active regeneration running";
    Parked = "parked", "parked regeneration running";
});

words!(Coating, "coating", {
    Catalysed = "catalysed", "catalysed";
    Bare = "bare", "bare";
});

impl Way {
    /// The way of cleaning as a technician reads it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Passive => "passive regeneration",
            Self::Active => "active regeneration",
            Self::Parked => "parked regeneration",
            Self::Service => "service regeneration",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde::Serialize;

    /// Files and JSON must not disagree about a word.
    fn check<T: Copy + PartialEq + Serialize + std::fmt::Debug>(
        all: &[T],
        id: impl Fn(T) -> &'static str,
        from_id: impl Fn(&str) -> Option<T>,
    ) {
        for each in all {
            assert_eq!(serde_json::to_value(each).unwrap(), serde_json::Value::from(id(*each)));
            assert_eq!(from_id(id(*each)), Some(*each));
        }
        assert_eq!(from_id("no such word"), None);
    }

    #[test]
    fn every_word_is_the_one_that_json_uses() {
        check(&Interlock::ALL, Interlock::id, Interlock::from_id);
        check(&Ground::ALL, Ground::id, Ground::from_id);
        check(&Enclosure::ALL, Enclosure::id, Enclosure::from_id);
        check(&Regeneration::ALL, Regeneration::id, Regeneration::from_id);
        check(&Coating::ALL, Coating::id, Coating::from_id);
        check(&Way::ALL, Way::id, Way::from_id);
    }
}
