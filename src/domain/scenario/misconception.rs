//! Named wrong models of the filter. Running one on a situation gives the answer of somebody who believes it.
//!
//! Each bends the profile, the situation or the law of burning in one place and is otherwise the model itself, so that
//! a wrong answer is always one that somebody could really reach.

use crate::aftertreatment::profile::{Profile, Way};
use crate::aftertreatment::situation::{Enclosure, Ground, Regeneration, Situation};

/// How soot burns, and how somebody believes it burns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Law {
    /// The model's: in proportion to what is there, while new soot comes in.
    Model,
    /// The first minute's rate for ever.
    Even,
    /// No new soot comes in.
    NoNewSoot,
}

/// A wrong belief about the filter.
#[derive(Clone, Copy, Debug)]
pub struct Misconception {
    /// Its word in templates and records.
    pub id: &'static str,
    /// What it is called.
    pub name: &'static str,
    /// What somebody who has it believes, as a sentence.
    pub believes: &'static str,
    /// What to teach against it, as a sentence.
    pub teach: &'static str,
    pub(super) law: Law,
    pub(super) bend_profile: Option<fn(&mut Profile)>,
    pub(super) bend_situation: Option<fn(&Profile, &mut Situation)>,
}

const PLAIN: Misconception = Misconception {
    id: "",
    name: "",
    believes: "",
    teach: "",
    law: Law::Model,
    bend_profile: None,
    bend_situation: None,
};

/// Every misconception. The order never changes: new ones go to the end.
pub const ALL: &[Misconception] = &[
    Misconception {
        id: "parked_cures_all",
        name: "Parked regeneration cures everything",
        believes: "Whatever the soot load, a parked regeneration is the answer.",
        teach: "Below its range a parked regeneration costs time and fuel that work or an active one would save.",
        bend_profile: Some(|p| {
            p.parked.from_percent = 0.0;
            p.parked.unless_above_percent = 0.0;
        }),
        ..PLAIN
    },
    Misconception {
        id: "anywhere_is_safe",
        name: "Any place will do",
        believes: "Where the machine stands makes no difference to a regeneration.",
        teach: "The outlet is hot enough to light straw and to hurt people, and its gas poisons a closed room.",
        bend_situation: Some(|_, s| {
            s.ground = Ground::BareSoil;
            s.enclosure = Enclosure::Open;
            s.people_near = false;
            s.fuel_near = false;
            s.overhead = false;
        }),
        ..PLAIN
    },
    Misconception {
        id: "inhibit_protects",
        name: "Holding back is the safe side",
        believes: "Holding the regeneration back is the safe choice anywhere.",
        teach: "Inhibit belongs to a hazardous place only; used elsewhere it fills the filter and costs engine power.",
        bend_situation: Some(|_, s| s.people_near = true),
        ..PLAIN
    },
    Misconception {
        id: "stop_level_is_advice",
        name: "The stop level is advice",
        believes: "Above the stop level a parked regeneration still helps.",
        teach: "So much soot can burn out of control and break the filter: from the stop level on only service may act.",
        bend_profile: Some(|p| {
            p.stop_above_percent = 1.0e9;
            p.parked.to_percent = 1.0e9;
        }),
        ..PLAIN
    },
    Misconception {
        id: "interrupting_is_harmless",
        name: "A regeneration can be broken off at will",
        believes: "A regeneration that has begun can be left at any time.",
        teach: "One that has begun is left to finish: broken off, it has cost fuel and cleaned little.",
        bend_situation: Some(|_, s| s.regeneration = Regeneration::None),
        ..PLAIN
    },
    Misconception {
        id: "speed_does_not_matter",
        name: "Engine speed makes no difference",
        believes: "An active regeneration runs at any engine speed.",
        teach: "Below the speed floor the exhaust stays too cool and the machine asks for more speed.",
        bend_situation: Some(|p, s| s.speed_rpm = s.speed_rpm.max(p.active.min_speed_rpm)),
        ..PLAIN
    },
    Misconception {
        id: "conditions_are_optional",
        name: "The starting conditions can wait",
        believes: "A parked regeneration starts whenever somebody presses the switch.",
        teach: "Each starting condition keeps the machine from moving, or the cleaning from failing, while it is hot.",
        bend_situation: Some(|_, s| {
            s.standing = true;
            s.park_brake = true;
            s.neutral = true;
            s.engine_running = true;
            s.engine_warm = true;
            s.attachment_down = true;
            s.inhibit_on = false;
            s.hours_since_parked = 1.0e6;
        }),
        ..PLAIN
    },
    Misconception {
        id: "work_cleans_enough",
        name: "Work alone cleans the filter",
        believes: "Work burns the soot off by itself, however light it is.",
        teach: "Below about 250 °C practically nothing burns; only hot work keeps up with the soot.",
        bend_profile: Some(|p| {
            p.parked.from_percent = 1.0e9;
            p.active.from_percent = 1.0e9;
        }),
        bend_situation: Some(|_, s| s.outlet_c = s.outlet_c.max(480.0)),
        ..PLAIN
    },
    Misconception {
        id: "heat_does_not_matter",
        name: "Temperature makes little difference",
        believes: "Soot burns about as fast at any working temperature.",
        teach: "The rate grows many times over between light and heavy work.",
        bend_situation: Some(|_, s| s.outlet_c = 350.0),
        ..PLAIN
    },
    Misconception {
        id: "ash_burns_too",
        name: "Ash burns off like soot",
        believes: "A regeneration removes ash as well.",
        teach: "Ash is what is left of lubricating oil; it does not burn, and only a service cleaning removes it.",
        bend_situation: Some(|_, s| s.ash_percent = 0.0),
        ..PLAIN
    },
    Misconception {
        id: "soot_and_ash_add_up",
        name: "Soot and ash are one load",
        believes: "Soot load and ash load are added, and the sum decides.",
        teach: "The bands are about soot; ash has its own limit and its own cure.",
        bend_situation: Some(|_, s| s.soot_percent += s.ash_percent),
        ..PLAIN
    },
    Misconception {
        id: "hot_lamp_is_a_fault",
        name: "The exhaust-hot lamp is a fault",
        believes: "A lit exhaust-hot lamp means that the machine must be stopped.",
        teach: "The lamp says that the exhaust is hot: keep people and fuel away, and go on unless another lamp says stop.",
        bend_situation: Some(|p, s| {
            if s.outlet_c >= p.exhaust_hot_at_c || s.regeneration != Regeneration::None {
                s.soot_percent = p.stop_above_percent + 1.0;
            }
        }),
        ..PLAIN
    },
    Misconception {
        id: "the_clock_decides",
        name: "The hour meter decides",
        believes: "A regeneration is due by the hour meter, whatever the soot load.",
        teach: "Hours only say when to expect one; the soot load decides.",
        bend_situation: Some(|p, s| {
            s.soot_percent =
                if s.hours_since_parked > p.parked.min_hours_between { p.parked.from_percent + 1.0 } else { 0.0 };
        }),
        ..PLAIN
    },
    Misconception {
        id: "active_cures_all",
        name: "The machine cleans itself at any load",
        believes: "At a high soot load the machine starts an active regeneration by itself.",
        teach: "Above its range the machine does not start an active one any more; a parked one is needed.",
        bend_profile: Some(|p| {
            p.parked.from_percent = 1.0e9;
            for band in &mut p.bands {
                band.ways = vec![Way::Passive, Way::Active];
            }
        }),
        ..PLAIN
    },
    Misconception {
        id: "burns_evenly",
        name: "Soot burns by the same amount every hour",
        believes: "What burns in the first minute burns in every minute after it.",
        teach: "The more soot is there, the more burns; as it gets less, so does the burning.",
        law: Law::Even,
        ..PLAIN
    },
    Misconception {
        id: "no_new_soot",
        name: "No new soot comes in",
        believes: "While soot burns, the engine adds none.",
        teach: "The engine makes soot all the time; what counts is the difference.",
        law: Law::NoNewSoot,
        ..PLAIN
    },
    Misconception {
        id: "scales_mixed_up",
        name: "Celsius read as Fahrenheit",
        believes: "The reading in degrees Celsius is taken for Fahrenheit.",
        teach: "Look at the unit beside the number: 600 °C is 1112 °F.",
        bend_situation: Some(|_, s| s.outlet_c = (s.outlet_c - 32.0) / 1.8),
        ..PLAIN
    },
    Misconception {
        id: "parked_burns_ash",
        name: "A parked regeneration burns the ash",
        believes: "Where the ash load is high, a long parked regeneration takes it out.",
        teach: "No heat that a filter can stand burns ash: it is taken out at a service cleaning, and in no other way.",
        bend_situation: Some(|p, s| {
            if s.ash_percent >= p.ash_service_percent {
                s.soot_percent = s.soot_percent.max(p.parked.from_percent + 1.0);
                s.ash_percent = 0.0;
            }
        }),
        ..PLAIN
    },
    Misconception {
        id: "hot_means_full",
        name: "The hotter, the fuller",
        believes: "The outlet temperature tells how full the filter is.",
        teach: "Temperature and soot load are two readings: hot work empties the filter, and a cool one can be full.",
        bend_situation: Some(|p, s| s.soot_percent = (100.0 * s.outlet_c / p.parked.temperature_c).max(0.0)),
        ..PLAIN
    },
    Misconception {
        id: "cold_cannot_be_full",
        name: "A cold filter is not full",
        believes: "As long as the exhaust is cool, the filter cannot have filled up.",
        teach: "Cool work is what fills a filter: it makes soot and burns next to none of it.",
        bend_situation: Some(|p, s| {
            if s.outlet_c < p.exhaust_hot_at_c {
                s.soot_percent = 0.0;
            }
        }),
        ..PLAIN
    },
    Misconception {
        id: "restart_clears",
        name: "Key off, key on, and it is gone",
        believes: "Switching off and on again puts a lamp out, and with it what the lamp was for.",
        teach: "The soot is still there after a restart, and so is whatever the lamp stands for.",
        bend_situation: Some(|p, s| {
            let dark = p.bands.iter().rev().find(|band| band.lamps.is_empty());
            s.soot_percent = s.soot_percent.min(dark.map_or(0.0, |band| band.from_percent));
            s.inhibits = 0;
            s.regeneration = Regeneration::None;
        }),
        ..PLAIN
    },
    Misconception {
        id: "idle_cleans",
        name: "Idling cleans the filter",
        believes: "An engine that idles burns the soot off, if one only waits.",
        teach: "At idle the exhaust is too cool to burn soot: it goes on filling the filter.",
        bend_situation: Some(|p, s| {
            if s.engine_running && s.load_percent <= IDLE_AT_MOST_PERCENT {
                s.outlet_c = s.outlet_c.max(p.active.temperature_c);
            }
        }),
        ..PLAIN
    },
];

/// Engine load up to which an engine is taken to idle, in percent; chosen by us: what an engine needs to turn itself over
/// and little more.
const IDLE_AT_MOST_PERCENT: f64 = 15.0;

/// A misconception by its word.
#[must_use]
pub fn find(id: &str) -> Option<&'static Misconception> {
    ALL.iter().find(|misconception| misconception.id == id)
}
