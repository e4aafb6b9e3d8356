//! From what a log says last to a situation that can be judged, with everything that the log does not say named.
//!
//! Never takes a guess for a reading: what is missing stands in the list, with what it is taken to be.

use super::parameter::{place, words};
use super::readout::{Readout, seconds};
use super::{MachineLog, Reading};
use crate::aftertreatment::signals::{ActiveRegeneration, InhibitReason, Triple};
use crate::aftertreatment::situation::{Regeneration, Situation};
use serde::Serialize;

/// The last moment of a log as a situation.
#[derive(Clone, Debug, PartialEq)]
pub struct Moment {
    /// The line that said the newest of it, counted from 1.
    pub line: u32,
    /// Microseconds as in the log; `None` in a log without times.
    pub at_us: Option<i64>,
    /// The situation; what is missing is as on a warm machine at work on bare soil in the open.
    pub situation: Situation,
    /// The fields of the situation that the log says.
    pub said: Vec<&'static str>,
    /// The fields that it does not say.
    pub missing: Vec<Missing>,
    /// What it said long before its end and never again.
    pub old: Vec<Old>,
}

/// A field of the situation that the log does not say.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Missing {
    /// The field.
    pub field: &'static str,
    /// Why it is missing.
    pub why: &'static str,
}

/// A reading that was said long before the log's end and never again.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Old {
    /// The word of the parameter.
    pub word: &'static str,
    /// How long before the end it was said, in seconds.
    pub seconds: f64,
}

/// Age in seconds from which a reading is called old; chosen by us: a minute changes neither soot nor temperature by
/// more than a gauge shows.
const OLD_S: f64 = 60.0;

const NOT_SENT: &str = "the machine does not send it";
const NOT_SAID: &str = "the log does not say it";
const LOOK: &str = "nobody can read it from a network; look at the place";

impl MachineLog {
    /// The last moment of the log; `None` when no line says anything.
    #[must_use]
    pub fn last_moment(&self) -> Option<Moment> {
        let Reading { line, at_us, readout } = self.readings.last()?;
        let mut moment = readout.moment();
        moment.line = *line;
        moment.at_us = *at_us;
        moment.old = self.old(*at_us);
        Some(moment)
    }

    fn old(&self, end_us: Option<i64>) -> Vec<Old> {
        let age = |spn: u32| Some(seconds(end_us? - (*self.last_said.get(&spn)?)?));
        let aged = words().filter_map(|(spn, word)| Some(Old { word, seconds: age(spn)? }));
        aged.filter(|old| old.seconds >= OLD_S).collect()
    }
}

impl Readout {
    /// What is known as a situation, with neither line nor time.
    #[must_use]
    pub fn moment(&self) -> Moment {
        let situation = Situation::default();
        let (said, missing, old) = (Vec::new(), Vec::new(), Vec::new());
        let mut moment = Moment { line: 0, at_us: None, situation, said, missing, old };
        self.numbers(&mut moment);
        self.states(&mut moment);
        for field in ["ground", "enclosure", "people_near", "fuel_near", "overhead"] {
            moment.missing.push(Missing { field, why: LOOK });
        }
        for field in ["attachment_down", "inhibits", "hours_since_parked"] {
            moment.missing.push(Missing { field, why: NOT_SENT });
        }
        moment
    }

    fn numbers(&self, moment: &mut Moment) {
        let s = &mut moment.situation;
        let fields: [(&'static str, usize, &mut f64, f64); 5] = [
            ("soot_percent", place::SOOT, &mut s.soot_percent, 250.0),
            ("ash_percent", place::ASH, &mut s.ash_percent, 250.0),
            ("outlet_c", place::OUTLET, &mut s.outlet_c, 1000.0),
            ("speed_rpm", place::SPEED, &mut s.speed_rpm, 8000.0),
            ("load_percent", place::LOAD, &mut s.load_percent, 125.0),
        ];
        for (field, place, target, most) in fields {
            let least = if field == "outlet_c" { -50.0 } else { 0.0 };
            match self.at(place) {
                Some(number) if (least..=most).contains(&number) => {
                    *target = number;
                    moment.said.push(field);
                }
                Some(_) => moment.missing.push(Missing { field, why: "what the log says cannot be" }),
                None => moment.missing.push(Missing { field, why: NOT_SAID }),
            }
        }
    }

    fn states(&self, moment: &mut Moment) {
        let reason = |reason| self.filter.reason(reason);
        // A brake or a drive that holds nothing back may still be off or engaged: only "yes" says something.
        let only_yes = |reason| if self.filter.reason(reason) == Triple::Yes { Some(false) } else { None };
        let speed = self.at(place::SPEED);
        let s = &mut moment.situation;
        let fields: [(&'static str, Option<bool>, &mut bool); 6] = [
            ("engine_running", speed.map(|speed| speed > 0.0), &mut s.engine_running),
            ("engine_warm", reason(InhibitReason::EngineCold).known().map(|cold| !cold), &mut s.engine_warm),
            ("standing", self.at(place::VEHICLE).map(|speed| speed == 0.0), &mut s.standing),
            (
                "park_brake",
                self.park_brake.known().or_else(|| only_yes(InhibitReason::ParkBrakeOff)),
                &mut s.park_brake,
            ),
            ("neutral", only_yes(InhibitReason::NotInNeutral), &mut s.neutral),
            ("inhibit_on", reason(InhibitReason::Switch).known(), &mut s.inhibit_on),
        ];
        for (field, said, target) in fields {
            match said {
                Some(yes) => {
                    *target = yes;
                    moment.said.push(field);
                }
                None => moment.missing.push(Missing { field, why: NOT_SAID }),
            }
        }
        let (regeneration, why) = match self.filter.active {
            ActiveRegeneration::Active => (Regeneration::Active, Some("whether the one that runs is a parked one")),
            ActiveRegeneration::NotActive | ActiveRegeneration::Needed => (Regeneration::None, None),
            ActiveRegeneration::NotAvailable => (Regeneration::None, Some(NOT_SAID)),
        };
        moment.situation.regeneration = regeneration;
        match why {
            Some(why) => moment.missing.push(Missing { field: "regeneration", why }),
            None => moment.said.push("regeneration"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    /// A field that is neither said nor missing would be a guess that nobody sees.
    #[test]
    fn every_field_is_said_or_missing_and_never_both() {
        let usual = serde_json::to_value(Situation::default()).unwrap();
        let fields: BTreeSet<&str> = usual.as_object().unwrap().keys().map(String::as_str).collect();
        let moment = Readout::default().moment();
        let missing: BTreeSet<&str> = moment.missing.iter().map(|missing| missing.field).collect();
        assert_eq!(missing, fields);
        assert_eq!((moment.said.len(), missing.len()), (0, moment.missing.len()));
    }
}
