//! Whether a log can be of the machine that a profile describes.
//!
//! Finds contradictions and proves nothing: a log without one may still be of another machine.

use super::parameter::place;
use super::{MachineLog, Reading};
use crate::aftertreatment::judgement::lamps;
use crate::aftertreatment::lamp::Lamp;
use crate::aftertreatment::profile::Profile;
use crate::aftertreatment::signals::FilterLamp;
use crate::document::Problem;
use crate::units::plain_number;

/// Percent of soot load by which a machine's own threshold may miss the profile's; chosen by us: what a gauge shows.
const THRESHOLD_SLACK_PERCENT: f64 = 1.0;
/// Percent of soot load above the stop level up to which a profile says what follows; as the scenarios draw it.
const KNOWN_ABOVE_STOP_PERCENT: f64 = 40.0;
/// How much faster than the fastest speed of its maps an engine may run; chosen by us: a tenth, for an overrun.
const OVERRUN: f64 = 1.1;

impl MachineLog {
    /// What in the log contradicts the profile, each where it first does.
    #[must_use]
    pub fn against(&self, file: &str, profile: &Profile) -> Vec<Problem> {
        let mut problems = Vec::new();
        let mut first = |place: usize, word: &str, wrong: &dyn Fn(f64) -> Option<String>| {
            let found = self
                .readings
                .iter()
                .find_map(|Reading { line, readout, .. }| Some((*line, readout.at(place).and_then(wrong)?)));
            problems.extend(found.map(|(line, message)| Problem::new(file, line, word, message)));
        };
        let name = &profile.name;
        let (from, by) = (profile.active.from_percent, profile.active.by_percent);
        first(place::THRESHOLD, "threshold_percent", &|threshold| {
            let fits = (from - THRESHOLD_SLACK_PERCENT..=by + THRESHOLD_SLACK_PERCENT).contains(&threshold);
            (!fits).then(|| {
                let threshold = plain_number(threshold);
                format!("this machine regenerates at {threshold} %, a {name} between {from} % and {by} %; is it another machine?")
            })
        });
        let most = profile.stop_above_percent + KNOWN_ABOVE_STOP_PERCENT;
        first(place::SOOT, "soot_percent", &|soot| {
            (soot > most).then(|| {
                format!("{soot} % is more than the profile of a {name} knows ({most} %); is it another machine?")
            })
        });
        let fastest = profile.outlet_c.speeds_rpm().last().map_or(f64::INFINITY, |speed| speed * OVERRUN);
        first(place::SPEED, "speed_rpm", &|speed| {
            (speed > fastest).then(|| {
                let speed = plain_number(speed);
                format!("{speed} rpm is faster than the engine of a {name} runs; is it another machine?")
            })
        });
        problems.extend(self.lamp_at_the_end(file, profile));
        problems.sort();
        problems
    }

    /// The filter lamp of the last moment, held against what the profile lights there.
    fn lamp_at_the_end(&self, file: &str, profile: &Profile) -> Option<Problem> {
        let readout = &self.readings.last()?.readout;
        let moment = self.last_moment()?;
        let (lit, says) = match readout.filter.lamp {
            FilterLamp::Off => (false, "off"),
            FilterLamp::On | FilterLamp::Blinking => (true, "lit"),
            FilterLamp::NotAvailable => return None,
        };
        let soot = readout.at(place::SOOT)?;
        let wanted = lamps(profile, &moment.situation).contains(Lamp::Filter);
        (lit != wanted).then(|| {
            let wanted = if wanted { "lit" } else { "off" };
            let message = format!(
                "at the end it is {says}; on a {} with {soot} % soot it is {wanted}; is it another machine, or a broken lamp?",
                profile.name
            );
            Problem::new(file, moment.line, "filter_lamp", message)
        })
    }
}
