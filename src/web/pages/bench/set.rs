//! What is set on the bench: read from the query, within the limits of the machine's own map.

use crate::domain::aftertreatment::journey::Bench;
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::bank::Bank;
use crate::domain::units::{Quantity, TemperatureUnit, Unit, plain_number};
use crate::web::form::{Fields, Reader};
use crate::web::view::FieldError;
use serde::Serialize;

/// Longest journey on the bench, in hours; chosen by us: two weeks of long days, which draws in no time.
const MOST_HOURS: f64 = 100.0;
/// Highest soot load that can be set, in percent; above it the model says nothing new.
const MOST_SOOT: f64 = 200.0;
/// Ambient temperatures that can be set, in deg C.
const AMBIENT_C: (f64, f64) = (-40.0, 50.0);

/// The fields as they were typed, or as they stand at first.
#[derive(Default, Serialize)]
pub(super) struct Typed {
    machine: String,
    load: String,
    speed: String,
    hours: String,
    soot: String,
    ambient: String,
    inhibit: bool,
}

/// The bench, or what keeps it from being set.
pub(super) struct Set<'b> {
    pub(super) profile: &'b Profile,
    pub(super) typed: Typed,
    pub(super) bench: Option<Bench>,
    pub(super) errors: Vec<FieldError>,
}

/// The symbol of the reader's scale.
pub(super) const fn degrees(unit: TemperatureUnit) -> &'static str {
    match unit {
        TemperatureUnit::Celsius => Unit::Celsius.symbol(),
        TemperatureUnit::Fahrenheit => Unit::Fahrenheit.symbol(),
    }
}

impl<'b> Set<'b> {
    /// Reads what is set; nothing when the bank holds no machine.
    pub(super) fn read(fields: &Fields, bank: &'b Bank, unit: TemperatureUnit) -> Option<Self> {
        let named = bank.machine(fields.typed("machine"));
        let profile = &named.or_else(|| bank.machines().next())?.profile;
        // Whoever comes without a query, or changes to another machine by its link, finds a usual day's work.
        let usual = fields.typed("load").is_empty() && fields.typed("speed").is_empty();
        let typed = if usual { Typed::usual(profile, unit) } else { Typed::sent(fields, profile) };
        if usual {
            let bench = typed.bench(profile, unit).ok();
            return Some(Self { profile, typed, bench, errors: Vec::new() });
        }
        let (bench, errors) = match typed.bench(profile, unit) {
            Ok(bench) => (Some(bench), Vec::new()),
            Err(errors) => (None, errors),
        };
        Some(Self { profile, typed, bench, errors })
    }
}

impl Typed {
    fn usual(profile: &Profile, unit: TemperatureUnit) -> Self {
        let speeds = profile.soot_mg_per_s.speeds_rpm();
        let speed = speeds.get(speeds.len() / 2).copied().unwrap_or_default();
        let ambient = Quantity::new(profile.thermal.reference_ambient_c, Unit::Celsius).for_reader(unit).value;
        Self {
            machine: profile.id.clone(),
            load: "40".to_owned(),
            speed: plain_number(speed),
            hours: "10".to_owned(),
            soot: "40".to_owned(),
            ambient: plain_number(ambient.round()),
            inhibit: false,
        }
    }

    fn sent(fields: &Fields, profile: &Profile) -> Self {
        let typed = |name| fields.typed(name).chars().filter(|c| !c.is_control()).take(20).collect();
        Self {
            machine: profile.id.clone(),
            load: typed("load"),
            speed: typed("speed"),
            hours: typed("hours"),
            soot: typed("soot"),
            ambient: typed("ambient"),
            inhibit: fields.typed("inhibit") == "yes",
        }
    }

    fn bench(&self, profile: &Profile, unit: TemperatureUnit) -> Result<Bench, Vec<FieldError>> {
        let speeds = profile.soot_mg_per_s.speeds_rpm();
        let (slowest, fastest) = (speeds.first().copied().unwrap_or(1.0), speeds.last().copied().unwrap_or(1.0));
        let shown = |celsius| Quantity::new(celsius, Unit::Celsius).for_reader(unit).value.round();
        let in_celsius = |value| match unit {
            TemperatureUnit::Celsius => Quantity::new(value, Unit::Celsius).own(),
            TemperatureUnit::Fahrenheit => Quantity::new(value, Unit::Fahrenheit).own(),
        };
        let none = Fields::default();
        let mut form = Reader::new(&none);
        let mut number = |field: &str, text: &str, (from, to): (f64, f64), symbol: &str| {
            let read = text.trim().replace(',', ".").parse::<f64>().ok().filter(|value| (from..=to).contains(value));
            if read.is_none() {
                let (from, to) = (plain_number(from), plain_number(to));
                form.wrong(field, format!("Type a number from {from} to {to} {symbol}."));
            }
            read
        };
        let load = number("load", &self.load, (0.0, 100.0), "%");
        let speed = number("speed", &self.speed, (slowest, fastest), "rpm");
        let hours = number("hours", &self.hours, (0.1, MOST_HOURS), "h");
        let soot = number("soot", &self.soot, (0.0, MOST_SOOT), "%");
        let ambient = number("ambient", &self.ambient, (shown(AMBIENT_C.0), shown(AMBIENT_C.1)), degrees(unit));
        let (Some(load_percent), Some(speed_rpm), Some(hours), Some(soot_percent), Some(ambient)) =
            (load, speed, hours, soot, ambient)
        else {
            return Err(form.into_errors());
        };
        let ambient_c = in_celsius(ambient);
        Ok(Bench { load_percent, speed_rpm, hours, soot_percent, ambient_c, inhibit_on: self.inhibit })
    }
}
