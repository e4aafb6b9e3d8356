//! A forecast as plain sentences, each with its numbers in the reader's units.
//!
//! Decides nothing and rounds only for reading.

use super::number;
use crate::aftertreatment::forecast::{Arrival, Forecast};
use crate::aftertreatment::profile::Profile;
use crate::units::{Quantity, TemperatureUnit, Unit, plain_number};

impl Forecast {
    /// When a band is entered and why, as one sentence. `place` is the band's in the profile's list.
    #[must_use]
    pub fn band_sentence(&self, profile: &Profile, place: usize, arrival: &Arrival, unit: TemperatureUnit) -> String {
        let share = |percent: f64| number(Quantity::new(percent, Unit::Percent), unit);
        let (name, level) = (&profile.bands[place].name, share(arrival.percent));
        let flow_g_per_h = plain_number(self.flow_mg_per_s * 3.6);
        match arrival.hours {
            Some(hours) if arrival.percent > self.from_percent => format!(
                "Soot rises to \"{name}\" ({level}) after {}: {flow_g_per_h} g come in each hour of work, more than burns on the way.",
                hours_text(hours)
            ),
            Some(hours) => format!(
                "Soot falls to \"{name}\" (below {level}) after {}: more burns than the {flow_g_per_h} g that come in each hour of work.",
                hours_text(hours)
            ),
            None => format!("Soot never comes to \"{name}\" ({level}): it settles {}.", self.settled(unit)),
        }
    }

    /// Whether work alone is enough and why, as one sentence.
    #[must_use]
    pub fn keeps_clean_sentence(&self, profile: &Profile, unit: TemperatureUnit) -> String {
        let active = number(Quantity::new(profile.active.from_percent, Unit::Percent), unit);
        let settled = self.settled(unit);
        if self.keeps_clean {
            format!(
                "Work alone keeps the filter clean: soot settles {settled}, below the {active} at which an active regeneration begins."
            )
        } else {
            format!(
                "Work alone does not keep the filter clean: soot would settle {settled}, at or above the {active} at which an active regeneration begins."
            )
        }
    }

    /// How hot the outlet must be for work alone, and how hot it gets, as one sentence.
    #[must_use]
    pub fn keeps_up_sentence(&self, profile: &Profile, unit: TemperatureUnit) -> String {
        let degrees = |celsius: f64| number(Quantity::new(celsius, Unit::Celsius), unit);
        let active = number(Quantity::new(profile.active.from_percent, Unit::Percent), unit);
        let (low, high) = (degrees(self.outlet_c.0), degrees(self.outlet_c.1));
        let here = if low == high { format!("stays at {low}") } else { format!("goes from {low} to {high}") };
        match self.keeps_up_from_c {
            Some(from_c) => format!(
                "Passive cleaning just keeps up with {} g of soot an hour at {active} soot when the outlet is at {}; on this duty it {here}.",
                plain_number(self.flow_mg_per_s * 3.6),
                degrees(from_c)
            ),
            None => {
                format!("No heat of work is enough for passive cleaning to keep up; on this duty the outlet {here}.")
            }
        }
    }

    /// Where the soot load would settle: "at 62 %".
    fn settled(&self, unit: TemperatureUnit) -> String {
        let share = |percent: f64| number(Quantity::new(percent, Unit::Percent), unit);
        let (low, high) = (share(self.settles_percent.0), share(self.settles_percent.1));
        // What lies beyond any level has no number to stand at.
        if low.starts_with("beyond") {
            low
        } else if low == high {
            format!("at {low}")
        } else {
            format!("at {low} to {high}")
        }
    }
}

/// Minutes below an hour, tenths of an hour below a day's work, whole hours beyond.
fn hours_text(hours: f64) -> String {
    if hours < 1.0 {
        format!("{} min", plain_number((hours * 60.0).round()))
    } else if hours < 10.0 {
        format!("{} h", plain_number((hours * 10.0).round() / 10.0))
    } else {
        format!("{} h", plain_number(hours.round()))
    }
}
