//! Each event of a journey and each state of the controller as one plain sentence that says why, with its numbers in the
//! reader's units.
//!
//! Decides nothing: the numbers are those of the event's own moment and of the profile.

use super::{interlock_open, number};
use crate::aftertreatment::controller::state::State;
use crate::aftertreatment::happening::{Happening, Hindrance};
use crate::aftertreatment::journey::{Event, Point};
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::situation::{Regeneration, Situation};
use crate::units::{Quantity, TemperatureUnit, Unit, plain_number};

/// Numbers as a reader wants them.
#[derive(Clone, Copy)]
struct Reader(TemperatureUnit);

impl Reader {
    fn share(self, percent: f64) -> String {
        number(Quantity::new(percent, Unit::Percent), self.0)
    }

    fn degrees(self, celsius: f64) -> String {
        number(Quantity::new(celsius, Unit::Celsius), self.0)
    }

    fn rpm(self, rpm: f64) -> String {
        number(Quantity::new(rpm, Unit::Rpm), self.0)
    }
}

/// The regeneration as the subject of a sentence.
const fn subject(regeneration: Regeneration) -> &'static str {
    match regeneration {
        Regeneration::None => "No regeneration",
        Regeneration::Active => "An active regeneration",
        Regeneration::Parked => "A parked regeneration",
    }
}

/// Why something hinders a regeneration, as a clause with its numbers.
fn because(hindrance: Hindrance, profile: &Profile, s: &Situation, reader: Reader) -> String {
    let active = &profile.active;
    match hindrance {
        Hindrance::EngineOff => "the engine does not run".to_owned(),
        Hindrance::BySwitch => "the inhibit switch is on".to_owned(),
        Hindrance::EngineCold => "the engine is not at working temperature yet".to_owned(),
        Hindrance::TooSlow => format!(
            "the engine turns at {}, below the {} that it needs",
            reader.rpm(s.speed_rpm),
            reader.rpm(active.min_speed_rpm)
        ),
        Hindrance::LowExhaustTemperature => format!(
            "the outlet is at {}, below the {} at which the extra fuel lights",
            reader.degrees(s.outlet_c),
            reader.degrees(active.light_off_c)
        ),
        Hindrance::Pause => {
            format!(
                "the last try failed and the machine waits {} min before the next",
                plain_number(active.retry_after_min)
            )
        }
        Hindrance::Interlock(interlock) => interlock_open(interlock).to_owned(),
        Hindrance::TooFewHours => format!(
            "{} h have passed since the last one, at most the {} h that must lie between two at {} soot or less",
            plain_number(s.hours_since_parked),
            plain_number(profile.parked.min_hours_between),
            reader.share(profile.parked.unless_above_percent)
        ),
        Hindrance::AlreadyRuns => "a regeneration is running already".to_owned(),
        Hindrance::ServiceOnly => format!(
            "the soot load is {}, at or above the {} from which only service helps",
            reader.share(s.soot_percent),
            reader.share(profile.stop_above_percent)
        ),
        Hindrance::Operator => "you broke it off".to_owned(),
    }
}

impl Event {
    /// What happened and why, as one sentence with its numbers.
    #[must_use]
    pub fn sentence(&self, profile: &Profile, unit: TemperatureUnit) -> String {
        let (reader, s) = (Reader(unit), &self.point.situation);
        let why = |hindrance| because(hindrance, profile, s, reader);
        match self.happening {
            Happening::Did(action) => super::sentence(&[action.clause().to_owned()]),
            Happening::Band { from, to } => band(profile, from, to, reader),
            Happening::LampOn(lamp) => format!("The {} comes on: {}.", lamp.name(), lamp_why(lamp, profile, s, reader)),
            Happening::LampOff(lamp) => {
                let [soot, outlet] = [reader.share(s.soot_percent), reader.degrees(s.outlet_c)];
                format!("The {} goes out: soot is at {soot} and the outlet at {outlet}.", lamp.name())
            }
            Happening::Waits(which, hindrance) => format!("{} is due but waits: {}.", subject(which), why(hindrance)),
            Happening::AsksForParked => format!(
                "A parked regeneration is needed at {} soot, and nothing keeps you from starting it.",
                reader.share(s.soot_percent)
            ),
            Happening::HeldBack(count) => format!(
                "An active regeneration is held back at {} soot because the inhibit switch is on; that makes {count} in a row, and power is lost from {}.",
                reader.share(s.soot_percent),
                profile.inhibit.derate_after
            ),
            Happening::Started(which) => started(which, profile, s, reader),
            Happening::Completed(which) => {
                format!("{} has run to its end and left {} soot.", subject(which), reader.share(s.soot_percent))
            }
            Happening::Interrupted(which, hindrance) => format!(
                "{} is broken off at {} soot: {}.",
                subject(which),
                reader.share(s.soot_percent),
                why(hindrance)
            ),
            Happening::Refused(hindrance) => {
                format!("The machine does not start a parked regeneration: {}.", why(hindrance))
            }
            Happening::Power { from_percent, to_percent } => power(from_percent, to_percent, profile, s, reader),
            Happening::ServiceOnly => format!(
                "Soot is at {}, and from {} the machine must not be used: only the service workshop can clean the filter.",
                reader.share(s.soot_percent),
                reader.share(profile.stop_above_percent)
            ),
            Happening::AshDue => format!(
                "Ash has reached {}: a service cleaning is due, because ash never burns.",
                reader.share(profile.ash_service_percent)
            ),
        }
    }
}

fn band(profile: &Profile, from: usize, to: usize, reader: Reader) -> String {
    let (below, name) = (&profile.bands[from], &profile.bands[to].name);
    if to > from {
        format!("Soot has risen to {}, where the band \"{name}\" begins.", reader.share(profile.bands[to].from_percent))
    } else {
        format!("Soot has fallen below {} and is in the band \"{name}\" again.", reader.share(below.from_percent))
    }
}

fn lamp_why(lamp: Lamp, profile: &Profile, s: &Situation, reader: Reader) -> String {
    let band = profile.band(s.soot_percent);
    match lamp {
        Lamp::ExhaustHot if s.outlet_c >= profile.exhaust_hot_at_c => {
            format!(
                "the outlet is at {}, at or above {}",
                reader.degrees(s.outlet_c),
                reader.degrees(profile.exhaust_hot_at_c)
            )
        }
        Lamp::ExhaustHot | Lamp::Filter if s.regeneration != Regeneration::None => {
            format!("{} is running", subject(s.regeneration).to_lowercase())
        }
        Lamp::Inhibit => "the inhibit switch is on".to_owned(),
        _ => format!("soot is at {}, in the band \"{}\"", reader.share(s.soot_percent), band.name),
    }
}

fn started(which: Regeneration, profile: &Profile, s: &Situation, reader: Reader) -> String {
    let soot = reader.share(s.soot_percent);
    if which == Regeneration::Parked {
        let parked = &profile.parked;
        let [shortest, longest] = [parked.minutes_min, parked.minutes_max].map(plain_number);
        let heat = reader.degrees(parked.temperature_c);
        return format!(
            "A parked regeneration begins at {soot} soot: it holds {heat} for {shortest} to {longest} min."
        );
    }
    let active = &profile.active;
    format!(
        "An active regeneration begins: soot is at {soot}, at or above {}, and the engine turns at {}, at or above {}.",
        reader.share(active.from_percent),
        reader.rpm(s.speed_rpm),
        reader.rpm(active.min_speed_rpm)
    )
}

fn power(from_percent: f64, to_percent: f64, profile: &Profile, s: &Situation, reader: Reader) -> String {
    let [from, to, soot] = [from_percent, to_percent, s.soot_percent].map(|percent| reader.share(percent));
    if to_percent > from_percent {
        return format!("Power comes back from {from} to {to}: soot is at {soot}.");
    }
    if s.inhibits >= profile.inhibit.derate_after && to_percent < profile.band(s.soot_percent).power_percent {
        let (count, limit) = (s.inhibits, profile.inhibit.derate_after);
        return format!(
            "Power falls from {from} to {to}: {count} regenerations in a row were held back or broken off, at or above {limit}."
        );
    }
    format!(
        "Power falls from {from} to {to}: soot is at {soot}, in the band \"{}\".",
        profile.band(s.soot_percent).name
    )
}

impl Point {
    /// What the machine's panel tells the operator at this moment.
    #[must_use]
    pub fn message(&self, profile: &Profile, unit: TemperatureUnit) -> String {
        let (reader, s) = (Reader(unit), &self.situation);
        let why = |hindrance| because(hindrance, profile, s, reader);
        match self.state {
            State::NotNeeded => "No regeneration is needed.".to_owned(),
            State::Due(None) => "An active regeneration is about to begin.".to_owned(),
            State::Due(Some(hindrance)) => format!("An active regeneration is due but waits: {}.", why(hindrance)),
            State::Active => format!(
                "An active regeneration runs. Keep the engine at {} or more.",
                reader.rpm(profile.active.min_speed_rpm)
            ),
            State::ParkedNeeded(None) => {
                "A parked regeneration is needed. Make the place safe, then start it.".to_owned()
            }
            State::ParkedNeeded(Some(hindrance)) => {
                format!("A parked regeneration is needed; it would not start now: {}.", why(hindrance))
            }
            State::Parked => "A parked regeneration runs. Stay with the machine.".to_owned(),
            State::ServiceOnly => "Stop using the machine and call service.".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::aftertreatment::journey::{Bench, Journey};
    use crate::aftertreatment::profile::Profile;
    use crate::units::TemperatureUnit;

    fn told(inhibit_on: bool, unit: TemperatureUnit) -> Vec<String> {
        let text = include_str!("../../../../tests/reference/common_practice.toml");
        let profile = Profile::read("common_practice.toml", text).expect("the test profile is whole");
        let bench = Bench {
            load_percent: 40.0,
            speed_rpm: 1600.0,
            hours: 3.0,
            soot_percent: 76.5,
            ambient_c: 25.0,
            inhibit_on,
        };
        let journey: Journey = bench.journey(&profile);
        journey.events.iter().map(|event| event.sentence(&profile, unit)).collect()
    }

    #[test]
    fn events_say_why_with_their_numbers() {
        insta::assert_snapshot!(told(false, TemperatureUnit::Celsius).join("\n"));
        insta::assert_snapshot!(told(true, TemperatureUnit::Fahrenheit).join("\n"));
    }
}
