//! The parts of a profile held against each other. Each check needs only the parts it compares, so that one broken part
//! does not hide what is wrong with the others.

use super::Draft;
use super::filter::ends;
use crate::aftertreatment::lamp::{Lamp, LampSet};
use crate::aftertreatment::profile::{ActiveRule, Band, ParkedRule, Way};
use crate::aftertreatment::situation::Interlock;
use crate::document::Section;
use crate::units::plain_number;

/// How much gas may cool between a filter that holds its temperature and the outlet. Chosen by us, to catch a gas
/// temperature that was given in the wrong scale.
const GAS_COOLS_BY_K: f64 = 50.0;

/// How often the time constant of the rise fits into a regeneration at least. Chosen by us: after three, 95 % of the way up
/// is done.
const RISES_PER_LENGTH: f64 = 3.0;

/// Notes everything in which the parts of the draft contradict each other.
pub(super) fn check(root: &Section<'_>, draft: &Draft) {
    let checker = Checker { root, draft };
    checker.bands();
    checker.lamps();
    checker.passive();
    if let Some(active) = &draft.cleaning.active {
        checker.active(active);
    }
    if let Some(parked) = &draft.cleaning.parked {
        checker.parked(parked);
    }
    checker.inhibit();
    checker.stop();
    checker.no2();
}

struct Checker<'c, 'd> {
    root: &'c Section<'d>,
    draft: &'c Draft,
}

impl Checker<'_, '_> {
    /// Notes a problem at a key of a section.
    fn report(&self, section: &str, key: &str, message: String) {
        if let Some(section) = self.root.optional_section(section) {
            section.report(key, message);
        }
    }

    fn report_band(&self, index: usize, key: &str, message: String) {
        if let Some(section) = self.root.tables("band").get(index) {
            section.report(key, message);
        }
    }

    /// A number must not be above another one (`strict`: nor equal to it).
    fn order(&self, place: (&str, &str), low: f64, strict: bool, high: f64, says: &str, unit: &str) {
        if low > high || (strict && low == high) {
            let word = if strict { "below" } else { "at most" };
            let [low, high] = [low, high].map(plain_number);
            self.report(place.0, place.1, format!("{low} {unit} must be {word} {says}, {high} {unit}"));
        }
    }

    fn bands(&self) {
        for pair in self.draft.bands.readable.windows(2) {
            let ((_, below), (index, band)) = (&pair[0], &pair[1]);
            if band.power_percent > below.power_percent {
                let [more, less] = [band.power_percent, below.power_percent].map(plain_number);
                let message = format!("more soot cannot give more power: {more} % here, {less} % in \"{}\"", below.id);
                self.report_band(*index, "power", message);
            }
        }
    }

    /// The lamps that bands light, and those that any machine of this model can light, must be explained.
    fn lamps(&self) {
        let Some(meanings) = &self.draft.notices.lamps else { return };
        let always = [Lamp::ExhaustHot, Lamp::Filter, Lamp::Inhibit].into_iter().collect::<LampSet>();
        let lit = self.draft.bands.readable.iter().fold(always, |lit, (_, band)| lit.union(band.lamps));
        for lamp in lit.iter().filter(|lamp| !meanings.iter().any(|meaning| meaning.lamp == *lamp)) {
            let message =
                format!("the {} can be lit, but nothing says what it means; add {} = \"...\"", lamp.name(), lamp.id());
            self.report("lamps", lamp.id(), message);
        }
    }

    fn passive(&self) {
        if let (Some(passive), Some(active)) = (&self.draft.cleaning.passive, &self.draft.cleaning.active) {
            let place = ("passive", "advise_from");
            self.order(
                place,
                passive.advise_from_percent,
                true,
                active.from_percent,
                "where active cleaning begins",
                "%",
            );
        }
    }

    fn active(&self, active: &ActiveRule) {
        self.order(("active", "from"), active.from_percent, true, active.by_percent, "active.by", "%");
        if active.gas_up_to_c < active.temperature_c - GAS_COOLS_BY_K {
            let [gas, filter] = [active.gas_up_to_c, active.temperature_c].map(plain_number);
            let message = format!("gas of at most {gas} °C cannot leave a filter that is held at {filter} °C");
            self.report("active", "gas_up_to", message);
        }
        self.hotter_than_lamp("active", active.temperature_c);
        self.rises_in_time("active", "duration", active.rise_s, active.minutes);
        match &self.draft.cleaning.parked {
            // The bands cannot allow both at once: naming them as well would send the writer the wrong way.
            Some(parked) if active.by_percent > parked.from_percent => {
                let place = ("active", "by");
                self.order(place, active.by_percent, false, parked.from_percent, "where parked cleaning begins", "%");
            }
            _ => self.allowed_between("active", Way::Active, active.from_percent, active.by_percent),
        }
        self.inside_map("active", "min_speed", "soot", active.min_speed_rpm);
        self.inside_map("active", "min_speed", "outlet", active.min_speed_rpm);
    }

    /// A speed for which a map would have to answer from its edge.
    fn inside_map(&self, section: &str, key: &str, name: &str, speed_rpm: f64) {
        let hardware = &self.draft.hardware;
        let map = if name == "soot" { &hardware.soot_mg_per_s } else { &hardware.outlet_c };
        let Some(map) = map else { return };
        let (slowest, fastest) = ends(map.speeds_rpm());
        if !(slowest..fastest).contains(&speed_rpm) {
            let [speed, low, high] = [speed_rpm, slowest, fastest].map(plain_number);
            let message = format!("{speed} rpm must lie inside the [{name}] map, which goes from {low} to {high} rpm");
            self.report(section, key, message);
        }
    }

    /// A regeneration that is over before it is hot cleans nothing.
    fn rises_in_time(&self, section: &str, length: &str, rise_s: f64, minutes: f64) {
        if rise_s * RISES_PER_LENGTH > minutes * 60.0 {
            let [rise, times, length_min] = [rise_s, RISES_PER_LENGTH, minutes].map(plain_number);
            let message = format!(
                "with {rise} s it is not hot in time; {times} times that must fit into {section}.{length}, {length_min} min"
            );
            self.report(section, "rise", message);
        }
    }

    fn parked(&self, parked: &ParkedRule) {
        self.order(("parked", "from"), parked.from_percent, true, parked.to_percent, "parked.to", "%");
        self.order(("parked", "shortest"), parked.minutes_min, false, parked.minutes_max, "parked.longest", "min");
        let place = ("parked", "unless_above");
        self.order(place, parked.unless_above_percent, false, parked.from_percent, "parked.from", "%");
        self.hotter_than_lamp("parked", parked.temperature_c);
        self.rises_in_time("parked", "shortest", parked.rise_s, parked.minutes_min);
        self.inside_map("parked", "speed", "soot", parked.speed_rpm);
        if let Some(active) = &self.draft.cleaning.active {
            let place = ("parked", "ends_at");
            let says = "where active cleaning begins";
            self.order(place, parked.ends_at_percent, true, active.from_percent, says, "%");
        }
        self.allowed_between("parked", Way::Parked, parked.from_percent, parked.to_percent);
        for (index, band) in &self.draft.bands.readable {
            if band.allows(Way::Parked) && band.to_percent > parked.to_percent {
                let to = plain_number(parked.to_percent);
                let message = format!("\"{}\" allows parked cleaning beyond {to} %, where parked.to ends it", band.id);
                self.report_band(*index, "ways", message);
            }
        }
        // Common practice, no published source: what the cleaning is parked for.
        for (needed, without) in [
            (Interlock::ParkBrake, "with the park brake off"),
            (Interlock::Standing, "while the machine moves"),
            (Interlock::EngineRunning, "with the engine off"),
            (Interlock::InhibitOff, "while the inhibit switch is on"),
        ] {
            if !parked.interlocks.contains(&needed) {
                let message = format!("parked cleaning must not start {without}; add \"{}\"", needed.id());
                self.report("parked", "interlocks", message);
            }
        }
    }

    fn inhibit(&self) {
        if let Some(inhibit) = &self.draft.cleaning.inhibit {
            let [derate, parked] = [inhibit.derate_after, inhibit.parked_after].map(f64::from);
            self.order(("inhibit", "derate_after"), derate, true, parked, "inhibit.parked_after", "times");
        }
    }

    /// At the stop level a band begins in which nothing but service is open and the red lamp is lit, and only there.
    fn stop(&self) {
        let Some(stop) = self.draft.cleaning.stop_above_percent else { return };
        let shown = plain_number(stop);
        if let Some(parked) = &self.draft.cleaning.parked
            && stop < parked.to_percent
        {
            let to = plain_number(parked.to_percent);
            let inside = if stop > parked.from_percent { "inside" } else { "below" };
            let message = format!("the stop level, {shown} %, lies {inside} the parked range, which ends at {to} %");
            self.report("stop", "above", message);
            return;
        }
        if let Some(bands) = &self.draft.bands.whole
            && !bands.iter().any(|band| band.from_percent == stop)
        {
            self.report("stop", "above", format!("no band begins at the stop level, {shown} %; let one begin there"));
            return;
        }
        // Between the two the machine would be used on, and nothing cleans it.
        if let Some(parked) = &self.draft.cleaning.parked
            && parked.to_percent < stop
        {
            let to = plain_number(parked.to_percent);
            let message = format!("parked cleaning ends at {to} %, and nothing but service helps beyond; write {to} %");
            self.report("stop", "above", message);
        }
        for (index, band) in &self.draft.bands.readable {
            self.stop_band(*index, band, stop);
        }
    }

    fn stop_band(&self, index: usize, band: &Band, stop: f64) {
        let beyond = band.from_percent >= stop;
        if beyond && band.ways != [Way::Service] {
            let message =
                format!("from the stop level, {} %, only service is open; write [\"service\"]", plain_number(stop));
            self.report_band(index, "ways", message);
        }
        if beyond != band.lamps.contains(Lamp::Stop) {
            let message = if beyond {
                "the machine must not be used here; light \"stop\"".to_owned()
            } else {
                format!("\"stop\" is for {} % and above; take it out", plain_number(stop))
            };
            self.report_band(index, "lamps", message);
        }
    }

    fn hotter_than_lamp(&self, section: &str, temperature_c: f64) {
        if let Some(lamp_c) = self.draft.hardware.exhaust_hot_at_c {
            let place = ("outlet", "exhaust_hot_at");
            self.order(place, lamp_c, true, temperature_c, &format!("{section}.temperature"), "°C");
        }
    }

    /// Every band that the range touches must leave this way open. An edge belongs to the band above it.
    fn allowed_between(&self, section: &str, way: Way, from: f64, to: f64) {
        for (index, band) in &self.draft.bands.readable {
            if band.from_percent < to && band.to_percent > from && !band.allows(way) {
                let [from, to] = [from, to].map(plain_number);
                let message = format!(
                    "[{section}] runs from {from} % to {to} %, but \"{}\" does not allow it; add \"{}\"",
                    band.id,
                    way.id()
                );
                self.report_band(*index, "ways", message);
            }
        }
    }

    /// The NO2 curve must answer for every temperature the machine reaches, or its edge would.
    fn no2(&self) {
        let Some(no2) = &self.draft.hardware.no2_ppm else { return };
        let (coldest, hottest) = ends(no2.xs());
        let outlets: Vec<f64> = self.draft.hardware.outlet_c.iter().flat_map(|map| map.values()).collect();
        let burns = [
            self.draft.cleaning.active.as_ref().map(|rule| rule.temperature_c),
            self.draft.cleaning.parked.as_ref().map(|rule| rule.temperature_c),
        ];
        let reached = outlets.into_iter().chain(burns.into_iter().flatten());
        let beyond: Vec<f64> = reached.filter(|outlet| !(coldest..=hottest).contains(outlet)).collect();
        let Some(worst) = beyond.into_iter().max_by(|a, b| a.total_cmp(b)) else { return };
        let [low, high, worst] = [coldest, hottest, worst].map(plain_number);
        let message =
            format!("the curve goes from {low} °C to {high} °C, but the outlet also has {worst} °C; widen it");
        self.report("no2", "temperature", message);
    }
}
