//! A journey's points and events as rows, for JSON and for a table.
//!
//! Never rounds: who reads a file can.

use crate::cli::Failure;
use crate::domain::aftertreatment::journey::{Event, Journey, Point};
use crate::domain::aftertreatment::judgement::lamps;
use crate::domain::aftertreatment::lamp::{Lamp, LampSet};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::units::TemperatureUnit;
use serde::Serialize;

/// A point of the trajectory.
#[derive(Serialize)]
pub(super) struct PointLine {
    seconds: f64,
    outlet_c: f64,
    soot_percent: f64,
    ash_percent: f64,
    load_percent: f64,
    speed_rpm: f64,
    power_percent: f64,
    regeneration: &'static str,
    state: &'static str,
    lamps: LampSet,
}

impl PointLine {
    pub(super) fn of(profile: &Profile, point: &Point) -> Self {
        let s = &point.situation;
        Self {
            seconds: point.seconds,
            outlet_c: s.outlet_c,
            soot_percent: s.soot_percent,
            ash_percent: s.ash_percent,
            load_percent: s.load_percent,
            speed_rpm: s.speed_rpm,
            power_percent: point.power_percent,
            regeneration: s.regeneration.id(),
            state: point.state.id(),
            lamps: lamps(profile, s),
        }
    }
}

/// An event.
#[derive(Serialize)]
pub(super) struct EventLine {
    seconds: f64,
    what: &'static str,
    soot_percent: f64,
    outlet_c: f64,
    because: String,
}

impl EventLine {
    pub(super) fn of(profile: &Profile, event: &Event, unit: TemperatureUnit) -> Self {
        Self {
            seconds: event.point.seconds,
            what: event.happening.id(),
            soot_percent: event.point.situation.soot_percent,
            outlet_c: event.point.situation.outlet_c,
            because: event.sentence(profile, unit),
        }
    }
}

/// The trajectory as CSV.
pub(super) fn csv(profile: &Profile, journey: &Journey) -> Result<String, Failure> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([
        "seconds",
        "outlet_c",
        "soot_percent",
        "ash_percent",
        "load_percent",
        "speed_rpm",
        "power_percent",
        "regeneration",
        "state",
        "lamps",
    ])?;
    for point in &journey.points {
        let line = PointLine::of(profile, point);
        let numbers = [
            line.seconds,
            line.outlet_c,
            line.soot_percent,
            line.ash_percent,
            line.load_percent,
            line.speed_rpm,
            line.power_percent,
        ];
        let lit: Vec<&str> = line.lamps.iter().map(Lamp::id).collect();
        let words = [line.regeneration.to_owned(), line.state.to_owned(), lit.join(" ")];
        writer.write_record(numbers.iter().map(ToString::to_string).chain(words))?;
    }
    let bytes = writer.into_inner().map_err(|error| error.to_string())?;
    Ok(String::from_utf8(bytes)?)
}

/// A moment as hours, minutes and seconds: "3:11:12".
pub(super) fn clock(seconds: f64) -> String {
    let whole = seconds.round();
    let (hours, rest) = ((whole / 3600.0).floor(), whole % 3600.0);
    format!("{hours}:{:02}:{:02}", (rest / 60.0).floor(), rest % 60.0)
}

#[cfg(test)]
mod tests {
    use super::clock;

    #[test]
    fn a_moment_reads_like_a_clock() {
        assert_eq!(
            (clock(0.0).as_str(), clock(59.6).as_str(), clock(11_472.1).as_str()),
            ("0:00:00", "0:01:00", "3:11:12")
        );
    }
}
