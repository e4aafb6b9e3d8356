//! The single comparisons that rules and permissions are made of.

use super::comparison::{Comparison, Fact, Limit, Reading, Relation};
use crate::aftertreatment::hazard::{BURNS_SKIN_FROM_C, place_is_hazardous};
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::{Enclosure, Interlock, Regeneration, Situation};
use crate::units::{Quantity, Unit};

pub(in crate::aftertreatment) const fn percent(value: f64) -> Quantity {
    Quantity::new(value, Unit::Percent)
}

pub(in crate::aftertreatment) const fn fact(fact: Fact, holds: bool) -> Comparison {
    Comparison::Fact { fact, holds }
}

pub(in crate::aftertreatment) fn soot_at_stop_level(profile: &Profile, s: &Situation) -> Comparison {
    soot_at_least(s, Limit::StopLevel, profile.stop_above_percent)
}

pub(in crate::aftertreatment) fn running(s: &Situation, regeneration: Regeneration) -> Comparison {
    fact(Fact::Running(regeneration), s.regeneration == regeneration)
}

/// The first thing that makes the place hazardous, or that nothing does.
pub(in crate::aftertreatment) fn hazard(s: &Situation) -> Comparison {
    let first = [
        (Fact::Enclosure(s.enclosure), s.enclosure != Enclosure::Open),
        (Fact::Ground(s.ground), s.ground.burns()),
        (Fact::FuelNear, s.fuel_near),
        (Fact::PeopleNear, s.people_near),
        (Fact::Overhead, s.overhead),
    ]
    .into_iter()
    .find(|(_, holds)| *holds);
    first.map_or(fact(Fact::PlaceHazardous, false), |(which, holds)| fact(which, holds))
}

/// The first thing here that hot gas or hot metal could set alight, or that the ground does not burn.
pub(super) fn what_burns(s: &Situation) -> Comparison {
    let ground = fact(Fact::Ground(s.ground), s.ground.burns());
    let beside = [ground, fact(Fact::FuelNear, s.fuel_near), fact(Fact::Overhead, s.overhead)];
    beside.into_iter().find(Comparison::holds).unwrap_or(ground)
}

/// The opposite of [`hazard`], as one fact.
pub(super) fn place_safe(s: &Situation) -> Comparison {
    fact(Fact::PlaceSafe, !place_is_hazardous(s))
}

pub(in crate::aftertreatment) fn outlet(s: &Situation, limit_c: f64, limit: Limit) -> Comparison {
    let celsius = |value| Quantity::new(value, Unit::Celsius);
    Comparison::at_least(Reading::Outlet, celsius(s.outlet_c), limit, celsius(limit_c))
}

pub(in crate::aftertreatment) fn burns_skin(s: &Situation) -> Comparison {
    outlet(s, BURNS_SKIN_FROM_C, Limit::BurnsSkin)
}

pub(super) fn too_slow(profile: &Profile, s: &Situation) -> Comparison {
    let rpm = |value| Quantity::new(value, Unit::Rpm);
    let floor = rpm(profile.active.min_speed_rpm);
    Comparison::new(Reading::Speed, rpm(s.speed_rpm), Relation::Below, Limit::SpeedFloor, floor)
}

/// Whether the outlet is cooler than an active regeneration needs to begin.
pub(super) fn too_cool(profile: &Profile, s: &Situation) -> Comparison {
    let celsius = |value| Quantity::new(value, Unit::Celsius);
    let floor = celsius(profile.active.light_off_c);
    Comparison::new(Reading::Outlet, celsius(s.outlet_c), Relation::Below, Limit::LightOff, floor)
}

/// Soot against one of the profile's levels.
pub(super) fn soot_at_least(s: &Situation, limit: Limit, level_percent: f64) -> Comparison {
    Comparison::at_least(Reading::Soot, percent(s.soot_percent), limit, percent(level_percent))
}

pub(super) fn ash_due(profile: &Profile, s: &Situation) -> Comparison {
    let due = percent(profile.ash_service_percent);
    Comparison::at_least(Reading::Ash, percent(s.ash_percent), Limit::AshService, due)
}

pub(super) fn too_often_held_back(profile: &Profile, s: &Situation) -> Comparison {
    let count = |value: u32| Quantity::new(f64::from(value), Unit::One);
    let (held_back, most) = (count(s.inhibits), count(profile.inhibit.parked_after));
    Comparison::at_least(Reading::Inhibits, held_back, Limit::ParkedAfter, most)
}

/// Whether the machine would accept the start as far as hours and soot go.
pub(in crate::aftertreatment) fn hours_allow(profile: &Profile, s: &Situation) -> bool {
    s.hours_since_parked > profile.parked.min_hours_between || s.soot_percent > profile.parked.unless_above_percent
}

/// Whether only a parked regeneration still helps; by soot, or because active ones were held back too often.
pub(in crate::aftertreatment) fn parked_is_needed(profile: &Profile, s: &Situation) -> bool {
    s.regeneration == Regeneration::None
        && (s.soot_percent >= profile.parked.from_percent
            || (s.inhibits >= profile.inhibit.parked_after && hours_allow(profile, s)))
}

/// The interlocks that are open, in the profile's order.
pub fn open_interlocks<'a>(profile: &'a Profile, s: &'a Situation) -> impl Iterator<Item = Interlock> + 'a {
    profile.parked.interlocks.iter().copied().filter(|interlock| !s.meets(*interlock))
}

/// What keeps a parked regeneration from starting: an open interlock, or too few hours at too little soot.
pub(in crate::aftertreatment) fn blocked(profile: &Profile, s: &Situation) -> Comparison {
    if let Some(open) = open_interlocks(profile, s).next() {
        return fact(Fact::InterlockOpen(open), true);
    }
    if hours_allow(profile, s) {
        return fact(Fact::WouldStart, false);
    }
    let hours = |value| Quantity::new(value, Unit::Hour);
    Comparison::new(
        Reading::HoursSinceParked,
        hours(s.hours_since_parked),
        Relation::AtMost,
        Limit::HoursBetween,
        hours(profile.parked.min_hours_between),
    )
}
