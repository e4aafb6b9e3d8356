//! A piece of a journey as part of the story: what was worked and done before the moment that is asked about.
//!
//! The model makes the journey; its end is the situation. Says what was done and what the machine did, and never why: that
//! would answer the question.

use super::language::{TypeError, Value};
use super::scope::{NoValue, Scope, shown_number};
use super::template::{Located, ShiftLine};
use crate::aftertreatment::happening::Happening;
use crate::aftertreatment::journey::{Event, Journey, Stretch};
use crate::aftertreatment::situation::{Regeneration, Situation};
use crate::units::{Quantity, TemperatureUnit, Unit};

/// Longest stretch of work in hours; chosen by us: a day.
const LONGEST_H: f64 = 24.0;
/// The figures of a shift that a template may use.
pub(super) const FIGURES: &[&str] = &[
    "hours",
    "minutes",
    "soot_before",
    "hottest",
    "held_back",
    "started",
    "completed",
    "broken_off",
    "refused",
    "power",
    "fuel",
    "done",
    "events",
];

/// A journey that has been made for one question.
#[derive(Debug)]
pub(super) struct Shift {
    journey: Journey,
    before: Situation,
    /// What was worked and done, in order.
    done: Vec<Done>,
}

#[derive(Debug)]
enum Done {
    Worked(Stretch),
    Did(&'static str),
}

impl Shift {
    /// Makes the journey from the drawn values.
    pub(super) fn make(lines: &[Located<ShiftLine>], scope: &Scope<'_>, before: &Situation) -> Result<Self, NoValue> {
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut done = Vec::new();
        let mut actions = Vec::new();
        let number = |expr, unit, low: f64, high: f64, wanted| -> Result<f64, NoValue> {
            let value = scope.value(expr)?;
            let number = value.in_unit(unit)?;
            if (low..=high).contains(&number) {
                return Ok(number);
            }
            Err(TypeError::Kind { found: value.described(), wanted }.into())
        };
        for line in lines {
            match &line.what {
                ShiftLine::Do(action) => {
                    actions.push(*action);
                    done.push(Done::Did(action.clause()));
                }
                ShiftLine::Work { minutes, load, speed, ambient } => {
                    let minutes = number(minutes, Unit::Minute, 0.0, LONGEST_H * 60.0, "a time up to 24 h")?;
                    let load = number(load, Unit::Percent, 0.0, 100.0, "an engine load from 0 % to 100 %")?;
                    let speed = number(speed, Unit::Rpm, 0.0, 5_000.0, "a speed from 0 rpm to 5000 rpm")?;
                    let mut stretch = Stretch::work(scope.profile, minutes, load, speed);
                    if let Some(ambient) = ambient {
                        let wanted = "a temperature from -50 °C to 60 °C";
                        stretch.ambient_c = number(ambient, Unit::Celsius, -50.0, 60.0, wanted)?;
                    }
                    stretch.actions = std::mem::take(&mut actions);
                    done.push(Done::Worked(stretch.clone()));
                    stretches.push(stretch);
                }
            }
        }
        if !actions.is_empty() {
            // What is done last takes no time: the moment right after it is asked about.
            let last = stretches.last().map_or((0.0, 0.0), |last| (last.load_percent, last.speed_rpm));
            let mut end = Stretch::work(scope.profile, 0.0, last.0, last.1);
            end.actions = actions;
            stretches.push(end);
        }
        Ok(Self { journey: Journey::make(scope.profile, before, &stretches), before: *before, done })
    }

    /// How things stand at its end, as gauges show it: what is read is what is judged.
    pub(super) fn end(&self) -> Situation {
        let end = self.journey.end.situation;
        Situation {
            soot_percent: end.soot_percent.round(),
            ash_percent: end.ash_percent.round(),
            outlet_c: end.outlet_c.round(),
            load_percent: end.load_percent.round(),
            hours_since_parked: (end.hours_since_parked * 10.0).round() / 10.0,
            ..end
        }
    }

    /// How long it was.
    pub(super) const fn seconds(&self) -> f64 {
        self.journey.end.seconds
    }

    /// The readings at a time after its beginning; held at its ends.
    pub(super) fn situation_at(&self, seconds: f64) -> Situation {
        self.journey.at(seconds).situation
    }

    /// The readings at a time within it.
    pub(super) fn at(&self, hours: f64) -> Result<Situation, NoValue> {
        let seconds = hours * 3600.0;
        if (0.0..=self.journey.end.seconds + 1e-6).contains(&seconds) {
            return Ok(self.situation_at(seconds));
        }
        let found = format!("{} into the shift", Quantity::new(hours, Unit::Hour));
        Err(TypeError::Kind { found, wanted: "a time within the shift" }.into())
    }

    /// One of its figures; texts are in the reader's scale only where they have temperatures, and these have none.
    pub(super) fn figure(&self, name: &str) -> Option<Value> {
        let hours = self.journey.end.seconds / 3600.0;
        let (value, unit) = match name {
            "done" => return Some(Value::Text(self.told_done())),
            "events" => return Some(Value::Text(self.told_events())),
            "hours" => (hours, Unit::Hour),
            "minutes" => (hours * 60.0, Unit::Minute),
            "soot_before" => (self.before.soot_percent, Unit::Percent),
            "hottest" => (self.hottest_c(), Unit::Celsius),
            "held_back" => (self.count(|happening| matches!(happening, Happening::HeldBack(_))), Unit::One),
            "started" => (self.count(|happening| matches!(happening, Happening::Started(_))), Unit::One),
            "completed" => (self.count(|happening| matches!(happening, Happening::Completed(_))), Unit::One),
            "broken_off" => (self.count(|happening| matches!(happening, Happening::Interrupted(..))), Unit::One),
            "refused" => (self.count(|happening| matches!(happening, Happening::Refused(_))), Unit::One),
            "power" => (self.journey.end.power_percent, Unit::Percent),
            "fuel" => (self.journey.costs.fuel_l, Unit::Litre),
            _ => return None,
        };
        Some(Value::Number(Quantity::new(value, unit)))
    }

    fn hottest_c(&self) -> f64 {
        let along = self.journey.points.iter().map(|point| point.situation.outlet_c);
        along.fold(self.before.outlet_c, f64::max).max(self.journey.end.situation.outlet_c)
    }

    #[expect(clippy::cast_precision_loss, reason = "a shift has far fewer events than 2^52")]
    fn count(&self, what: impl Fn(Happening) -> bool) -> f64 {
        self.journey.events.iter().filter(|event| what(event.happening)).count() as f64
    }

    /// "45 min at 60 % engine load and 1800 rpm; then you switch the engine off".
    fn told_done(&self) -> String {
        let told = self.done.iter().map(|done| match done {
            Done::Did(clause) => (*clause).to_owned(),
            Done::Worked(stretch) if stretch.speed_rpm == 0.0 => {
                format!("{} standing switched off", time(stretch.minutes))
            }
            Done::Worked(stretch) => {
                let shown = |value, unit| shown_number(Quantity::new(value, unit));
                let load = shown(stretch.load_percent, Unit::Percent);
                format!("{} at {load} engine load and {}", time(stretch.minutes), shown(stretch.speed_rpm, Unit::Rpm))
            }
        });
        told.collect::<Vec<_>>().join("; then ")
    }

    /// "after 12 min the filter lamp came on, after 35 min an active regeneration began".
    fn told_events(&self) -> String {
        let told: Vec<String> = self.journey.events.iter().filter_map(told).collect();
        if told.is_empty() { "nothing new showed on the panel".to_owned() } else { told.join(", ") }
    }
}

/// What somebody on the machine would notice; nothing of what only the controller knows.
fn told(event: &Event) -> Option<String> {
    let what = match event.happening {
        Happening::LampOn(lamp) => format!("the {} came on", lamp.name()),
        Happening::LampOff(lamp) => format!("the {} went out", lamp.name()),
        Happening::Started(which) => format!("{} began", named(which)),
        Happening::Completed(which) => format!("{} ended", named(which)),
        Happening::Interrupted(which, _) => format!("{} was broken off", named(which)),
        Happening::HeldBack(_) => "a regeneration was held back".to_owned(),
        Happening::Refused(_) => "the parked regeneration did not start".to_owned(),
        _ => return None,
    };
    Some(format!("after {} {what}", time(event.point.seconds / 60.0)))
}

const fn named(regeneration: Regeneration) -> &'static str {
    match regeneration {
        Regeneration::None => "no regeneration",
        Regeneration::Active => "an active regeneration",
        Regeneration::Parked => "a parked regeneration",
    }
}

/// Minutes, and from two hours on hours.
fn time(minutes: f64) -> String {
    if minutes < 120.0 {
        Quantity::new(minutes.round(), Unit::Minute).to_string()
    } else {
        Quantity::new((minutes / 6.0).round() / 10.0, Unit::Hour).for_reader(TemperatureUnit::Celsius).to_string()
    }
}
