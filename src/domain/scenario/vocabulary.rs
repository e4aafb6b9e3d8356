//! What the words of a template stand for: readings of a situation, figures of a machine, names for the reader.

use super::language::{TypeError, Value};
use crate::aftertreatment::hazard::Hazard;
use crate::aftertreatment::judgement::{Action, Route};
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::{Enclosure, Ground, Interlock, Regeneration, Situation};
use crate::units::{Quantity, TemperatureUnit, Unit};

/// A reading that a template may set and show.
#[derive(Clone, Copy, Debug)]
pub(super) struct Field {
    pub(super) word: &'static str,
    label: &'static str,
    measure: Measure,
}

impl PartialEq for Field {
    /// A field is known by its word.
    fn eq(&self, other: &Self) -> bool {
        self.word == other.word
    }
}

#[derive(Clone, Copy, Debug)]
enum Measure {
    Number(Unit, fn(&mut Situation) -> &mut f64),
    Count,
    Truth(fn(&mut Situation) -> &mut bool),
    Regeneration,
    Ground,
    Enclosure,
}

macro_rules! fields {
    ($($word:ident $label:literal $measure:expr;)+) => {
        const FIELDS: &[Field] = &[$(Field { word: stringify!($word), label: $label, measure: $measure }),+];
    };
}

fields! {
    soot "Soot load" Measure::Number(Unit::Percent, |s| &mut s.soot_percent);
    ash "Ash load" Measure::Number(Unit::Percent, |s| &mut s.ash_percent);
    outlet "Outlet temperature" Measure::Number(Unit::Celsius, |s| &mut s.outlet_c);
    load "Engine load" Measure::Number(Unit::Percent, |s| &mut s.load_percent);
    speed "Engine speed" Measure::Number(Unit::Rpm, |s| &mut s.speed_rpm);
    hours_since_parked "Since the last parked regeneration" Measure::Number(Unit::Hour, |s| &mut s.hours_since_parked);
    inhibits "Regenerations held back in a row" Measure::Count;
    regeneration "Regeneration" Measure::Regeneration;
    ground "Ground" Measure::Ground;
    enclosure "Place" Measure::Enclosure;
    engine_running "Engine" Measure::Truth(|s| &mut s.engine_running);
    engine_warm "Engine at working temperature" Measure::Truth(|s| &mut s.engine_warm);
    standing "Machine" Measure::Truth(|s| &mut s.standing);
    park_brake "Park brake" Measure::Truth(|s| &mut s.park_brake);
    neutral "Drive" Measure::Truth(|s| &mut s.neutral);
    attachment_down "Attachment" Measure::Truth(|s| &mut s.attachment_down);
    inhibit_on "Inhibit switch" Measure::Truth(|s| &mut s.inhibit_on);
    people_near "People near the outlet" Measure::Truth(|s| &mut s.people_near);
    fuel_near "Fuel or chaff near the outlet" Measure::Truth(|s| &mut s.fuel_near);
    overhead "Something over the outlet" Measure::Truth(|s| &mut s.overhead);
}

impl Field {
    pub(super) fn all() -> impl Iterator<Item = &'static Self> {
        FIELDS.iter()
    }

    pub(super) fn find(word: &str) -> Option<&'static Self> {
        FIELDS.iter().find(|field| field.word == word)
    }

    /// Sets the reading.
    pub(super) fn set(&self, situation: &mut Situation, value: &Value) -> Result<(), TypeError> {
        match self.measure {
            Measure::Number(unit, place) => *place(situation) = value.in_unit(unit)?,
            Measure::Count => {
                let count = value.in_unit(Unit::One)?;
                if !(0.0..=1000.0).contains(&count) || count.fract() != 0.0 {
                    return Err(TypeError::Kind { found: value.described(), wanted: "a whole number up to 1000" });
                }
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked just above")]
                let count = count as u32;
                situation.inhibits = count;
            }
            Measure::Truth(place) => *place(situation) = value.truth()?,
            Measure::Regeneration => {
                situation.regeneration = word(value, Regeneration::from_id, "none, active or parked")?
            }
            Measure::Ground => {
                situation.ground =
                    word(value, Ground::from_id, "bare_soil, concrete, gravel, stubble, dry_grass or straw")?;
            }
            Measure::Enclosure => situation.enclosure = word(value, Enclosure::from_id, "open, open_sided or closed")?,
        }
        Ok(())
    }

    /// Takes the reading over from another situation.
    pub(super) fn copy(&self, from: &Situation, to: &mut Situation) {
        let mut from = *from;
        match self.measure {
            Measure::Number(_, place) => *place(to) = *place(&mut from),
            Measure::Count => to.inhibits = from.inhibits,
            Measure::Truth(place) => *place(to) = *place(&mut from),
            Measure::Regeneration => to.regeneration = from.regeneration,
            Measure::Ground => to.ground = from.ground,
            Measure::Enclosure => to.enclosure = from.enclosure,
        }
    }

    /// The reading as the reader sees it: label and value.
    pub(super) fn shown(&self, situation: &Situation, unit: TemperatureUnit) -> (&'static str, String) {
        let mut copy = *situation;
        let value = match self.measure {
            Measure::Number(own, place) => Quantity::new(*place(&mut copy), own).for_reader(unit).to_string(),
            Measure::Count => situation.inhibits.to_string(),
            Measure::Truth(place) => state_words(self.word, *place(&mut copy)).to_owned(),
            Measure::Regeneration => situation.regeneration.name().to_owned(),
            Measure::Ground => situation.ground.name().to_owned(),
            Measure::Enclosure => situation.enclosure.name().to_owned(),
        };
        (self.label, value)
    }
}

fn word<T>(value: &Value, find: impl Fn(&str) -> Option<T>, wanted: &'static str) -> Result<T, TypeError> {
    find(value.word()?).ok_or_else(|| TypeError::Kind { found: value.described(), wanted })
}

fn state_words(word: &str, truth: bool) -> &'static str {
    match (word, truth) {
        ("engine_running", true) => "running",
        ("standing", true) => "standing still",
        ("standing", false) => "moving",
        ("neutral", true) => "in neutral",
        ("neutral", false) => "in gear",
        ("attachment_down", true) => "on the ground",
        ("attachment_down", false) => "raised",
        ("park_brake" | "inhibit_on", true) => "on",
        ("engine_running" | "park_brake" | "inhibit_on", false) => "off",
        (_, true) => "yes",
        (_, false) => "no",
    }
}

/// The figures of a machine that a template may use.
pub(super) const FIGURES: &[&str] = &[
    "name",
    "kind",
    "stop_level",
    "parked_from",
    "parked_to",
    "hours_waived_above",
    "active_from",
    "active_by",
    "advise_from",
    "ash_service",
    "active_temperature",
    "gas_up_to",
    "parked_temperature",
    "exhaust_hot_at",
    "active_minutes",
    "parked_minutes_min",
    "parked_minutes_max",
    "hours_between",
    "first_after",
    "usual_every",
    "speed_floor",
    "derate_after",
    "parked_after",
    "full_load",
];

/// A figure of a machine.
pub(super) fn figure(profile: &Profile, name: &str) -> Option<Value> {
    let p = profile;
    let (value, unit) = match name {
        "name" => return Some(Value::Text(p.name.clone())),
        "kind" => return Some(Value::Text(p.kind.clone())),
        "stop_level" => (p.stop_above_percent, Unit::Percent),
        "parked_from" => (p.parked.from_percent, Unit::Percent),
        "parked_to" => (p.parked.to_percent, Unit::Percent),
        "hours_waived_above" => (p.parked.unless_above_percent, Unit::Percent),
        "active_from" => (p.active.from_percent, Unit::Percent),
        "active_by" => (p.active.by_percent, Unit::Percent),
        "advise_from" => (p.passive.advise_from_percent, Unit::Percent),
        "ash_service" => (p.ash_service_percent, Unit::Percent),
        "active_temperature" => (p.active.temperature_c, Unit::Celsius),
        "gas_up_to" => (p.active.gas_up_to_c, Unit::Celsius),
        "parked_temperature" => (p.parked.temperature_c, Unit::Celsius),
        "exhaust_hot_at" => (p.exhaust_hot_at_c, Unit::Celsius),
        "active_minutes" => (p.active.minutes, Unit::Minute),
        "parked_minutes_min" => (p.parked.minutes_min, Unit::Minute),
        "parked_minutes_max" => (p.parked.minutes_max, Unit::Minute),
        "hours_between" => (p.parked.min_hours_between, Unit::Hour),
        "first_after" => (p.active.first_after_h, Unit::Hour),
        "usual_every" => (p.active.usual_every_h, Unit::Hour),
        "speed_floor" => (p.active.min_speed_rpm, Unit::Rpm),
        "derate_after" => (f64::from(p.inhibit.derate_after), Unit::One),
        "parked_after" => (f64::from(p.inhibit.parked_after), Unit::One),
        "full_load" => (p.filter.full_load_g(), Unit::Gram),
        _ => return None,
    };
    Some(Value::Number(Quantity::new(value, unit)))
}

/// The words of the model on every machine.
pub(super) fn model_words() -> impl Iterator<Item = &'static str> {
    let routes = Route::ALL.iter().map(|word| word.id()).chain(Action::ALL.iter().map(|word| word.id()));
    let panel = Lamp::ALL.iter().map(|word| word.id()).chain(Hazard::ALL.iter().map(|word| word.id()));
    let places = Ground::ALL.iter().map(|word| word.id()).chain(Enclosure::ALL.iter().map(|word| word.id()));
    let states = Interlock::ALL.iter().map(|word| word.id()).chain(Regeneration::ALL.iter().map(|word| word.id()));
    routes.chain(panel).chain(places).chain(states)
}

/// Whether a name is one of them.
pub(super) fn is_word(name: &str) -> bool {
    model_words().any(|word| word == name)
}

/// How a word reads in a sentence.
pub(super) fn in_words(word: &str, profile: &Profile) -> String {
    let known = Ground::from_id(word)
        .map(Ground::name)
        .or_else(|| Enclosure::from_id(word).map(Enclosure::name))
        .or_else(|| Lamp::from_id(word).map(Lamp::name))
        .or_else(|| Route::from_id(word).map(Route::instruction))
        .or_else(|| Action::from_id(word).map(Action::phrase))
        .or_else(|| Interlock::from_id(word).map(Interlock::name));
    if let Some(name) = known {
        return name.to_owned();
    }
    profile.band_by_id(word).map_or_else(|| word.replace('_', " "), |band| band.name.clone())
}
