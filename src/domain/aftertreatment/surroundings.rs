//! Why a place is dangerous: for each hazard that is present, the sentences, the numbers and where the numbers come from.
//!
//! Explains what [`hazard::present`] finds and finds nothing else. Its numbers are for training; the operator's manual,
//! local codes and licensed practice decide. Surfaces are taken to be as hot as the gas at the outlet: at most they are.

use super::hazard::{self, BURNS_SKIN_FROM_C, DRY_PLANTS_IGNITE_FROM_C, Hazard};
use super::profile::Profile;
use super::rules;
use super::situation::{Ground, Regeneration, Situation};
use crate::units::{Quantity, Unit, plain_number};
use serde::Serialize;

/// Where a number comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Source {
    /// The publication, or that there is none.
    pub name: &'static str,
    /// Whether it was read for this project; otherwise it is from memory and must be called so.
    pub confirmed: bool,
}

const fn read(name: &'static str) -> Source {
    Source { name, confirmed: true }
}

const fn from_memory(name: &'static str) -> Source {
    Source { name, confirmed: false }
}

/// Common practice, no published source.
pub const COMMON_PRACTICE: Source = read("common practice, no published source");

/// Fine dry plant matter ignites between these temperatures, in deg C.
pub const FINE_FUELS_IGNITE_C: (f64, f64) = (DRY_PLANTS_IGNITE_FROM_C, 260.0);
/// Source of [`FINE_FUELS_IGNITE_C`].
pub const FINE_FUELS: Source = read("US Forest Service 0351 1305 (2003), 400 to 500 °F");

/// Hay against a hot plate ignites at this temperature, in deg C.
pub const HAY_IGNITES_C: f64 = 406.0;
/// Source of [`HAY_IGNITES_C`].
pub const HAY: Source = read("Markova 2022, BioResources 17(4):6926");

/// Diesel fuel (no. 2) ignites by itself between these temperatures, in deg C.
pub const DIESEL_IGNITES_C: (f64, f64) = (254.0, 285.0);
/// Source of [`DIESEL_IGNITES_C`].
pub const DIESEL: Source = read("WHO 1996, diesel fuel (secondary)");

/// Seconds of touch after which bare metal burns skin, with its temperature in deg C; the lower end where a range is given.
pub const METAL_BURNS_SKIN: [(f64, f64); 3] = [(1.0, 65.0), (10.0, BURNS_SKIN_FROM_C), (60.0, 51.0)];
/// Source of [`METAL_BURNS_SKIN`].
pub const METAL: Source = from_memory("ISO 13732-1");

/// What burns is kept this far away during hot work, in m (35 ft).
pub const CLEARANCE_M: f64 = 10.7;
/// How long somebody watches after hot work at least, in minutes.
pub const WATCH_MIN: f64 = 30.0;
/// Source of [`CLEARANCE_M`] and [`WATCH_MIN`].
pub const HOT_WORK: Source = read("29 CFR 1910.252(a)(2)");
/// How long somebody watches after hot work by a newer edition, in minutes.
pub const LONGER_WATCH_MIN: f64 = 60.0;
/// Source of [`LONGER_WATCH_MIN`].
pub const HOT_WORK_NEWER: Source = from_memory("NFPA 51B-2019");

/// Carbon monoxide in ppm as an average over 8 h: permitted.
pub const CO_PERMITTED_PPM: f64 = 50.0;
/// Source of [`CO_PERMITTED_PPM`].
pub const CO_PERMITTED: Source = read("OSHA, permissible exposure limit");
/// Carbon monoxide in ppm as an average over a working day: recommended.
pub const CO_RECOMMENDED_PPM: f64 = 35.0;
/// Carbon monoxide in ppm that is never passed: recommended.
pub const CO_CEILING_PPM: f64 = 200.0;
/// Source of [`CO_RECOMMENDED_PPM`] and [`CO_CEILING_PPM`].
pub const CO_RECOMMENDED: Source = read("NIOSH, recommended exposure limit");

/// Soot in g/L and the hottest the filter got when it burned out of control, in deg C, at an inlet of 600 deg C.
pub const BURN_PEAKS: [(f64, f64); 3] = [(3.0, 636.7), (6.0, 790.3), (9.0, 935.6)];
/// Source of [`BURN_PEAKS`].
pub const PEAKS: Source = read("Liu et al. 2021, Processes 9:1403, fig. 8 (simulated)");

/// One reason why a hazard is present.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HazardReason {
    /// The hazard.
    pub hazard: Hazard,
    /// A plain sentence; temperatures in °C.
    pub sentence: String,
    /// The numbers it stands on.
    pub figures: Vec<Quantity>,
    /// Where the numbers come from.
    pub source: Source,
}

/// How hot the gas at the outlet is or, while a regeneration runs or could begin at any moment, can get, in deg C.
#[must_use]
pub fn hottest_c(profile: &Profile, situation: &Situation) -> f64 {
    let active_c = profile.active.gas_up_to_c;
    let parked_c = active_c.max(profile.parked.temperature_c);
    let gas_c = match situation.regeneration {
        Regeneration::Active => active_c,
        Regeneration::Parked => parked_c,
        Regeneration::None if rules::parked_is_needed(profile, situation) => parked_c,
        Regeneration::None if rules::active_is_due(profile, situation) => active_c,
        Regeneration::None => f64::NEG_INFINITY,
    };
    situation.outlet_c.max(gas_c)
}

/// Every reason why the hazards that are present are, in the order of [`Hazard::ALL`].
#[must_use]
pub fn reasons(profile: &Profile, situation: &Situation) -> Vec<HazardReason> {
    let mut reasons = Reasons { hottest_c: hottest_c(profile, situation), found: Vec::new() };
    for hazard in hazard::present(profile, situation).iter() {
        match hazard {
            Hazard::ExhaustInClosedSpace => reasons.closed_space(),
            Hazard::Fire => reasons.fire(situation),
            Hazard::PeopleAtOutlet => reasons.people(),
            Hazard::HotSurface => reasons.surface(),
            Hazard::OverloadedFilter => reasons.overloaded(profile, situation),
            Hazard::Dust => reasons.dust(profile, situation),
        }
    }
    reasons.found
}

struct Reasons {
    hottest_c: f64,
    found: Vec<HazardReason>,
}

impl Reasons {
    fn say(&mut self, hazard: Hazard, sentence: String, figures: &[(f64, Unit)], source: Source) {
        let figures = figures.iter().map(|(value, unit)| Quantity::new(*value, *unit)).collect();
        self.found.push(HazardReason { hazard, sentence, figures, source });
    }

    fn closed_space(&mut self) {
        let hazard = Hazard::ExhaustInClosedSpace;
        let sentence = "You cannot smell carbon monoxide. Over 8 h the air may hold 50 ppm on average, and gas that cannot \
                        get away passes that.";
        self.say(hazard, sentence.to_owned(), &[(CO_PERMITTED_PPM, Unit::Ppm), (8.0, Unit::Hour)], CO_PERMITTED);
        let sentence = "Recommended are at most 35 ppm over a working day, and never more than 200 ppm.";
        let figures = [(CO_RECOMMENDED_PPM, Unit::Ppm), (CO_CEILING_PPM, Unit::Ppm)];
        self.say(hazard, sentence.to_owned(), &figures, CO_RECOMMENDED);
    }

    fn fire(&mut self, s: &Situation) {
        let hot = whole(self.hottest_c);
        let (from, to) = FINE_FUELS_IGNITE_C;
        if s.ground.burns() || s.fuel_near {
            let what = if s.ground.burns() { s.ground.name() } else { "chaff" };
            let sentence = format!(
                "The gas is, or can get, as hot as {hot} °C; fine dry plant matter such as {what} ignites from 204 to 260 °C."
            );
            self.say(Hazard::Fire, sentence, &[(from, Unit::Celsius), (to, Unit::Celsius)], FINE_FUELS);
        }
        if s.ground == Ground::Straw && self.hottest_c >= HAY_IGNITES_C {
            let sentence = "Hay catches fire against metal of 406 °C.".to_owned();
            self.say(Hazard::Fire, sentence, &[(HAY_IGNITES_C, Unit::Celsius)], HAY);
        }
        let (from, to) = DIESEL_IGNITES_C;
        if s.fuel_near && self.hottest_c >= from {
            let sentence = "Diesel fuel ignites without a spark from 254 to 285 °C.".to_owned();
            self.say(Hazard::Fire, sentence, &[(from, Unit::Celsius), (to, Unit::Celsius)], DIESEL);
        }
        if s.overhead {
            let sentence = format!("Hot gas rises: what hangs over the outlet gets up to {hot} °C.");
            self.say(Hazard::Fire, sentence, &[(self.hottest_c, Unit::Celsius)], COMMON_PRACTICE);
        }
        let sentence = "Keep what burns 10.7 m (35 ft) away, and watch for at least 30 min afterwards. This is the rule for \
                        hot work: regeneration is not legally hot work, and it is taken as an analogy.";
        self.say(Hazard::Fire, sentence.to_owned(), &[(CLEARANCE_M, Unit::Metre), (WATCH_MIN, Unit::Minute)], HOT_WORK);
        let sentence = "A newer edition asks for a watch of 60 min after hot work.".to_owned();
        self.say(Hazard::Fire, sentence, &[(LONGER_WATCH_MIN, Unit::Minute)], HOT_WORK_NEWER);
    }

    fn people(&mut self) {
        let (hot, (seconds, metal_c)) = (whole(self.hottest_c), METAL_BURNS_SKIN[0]);
        let sentence =
            format!("The gas is, or can get, as hot as {hot} °C; metal of 65 °C already burns skin within a second.");
        self.say(Hazard::PeopleAtOutlet, sentence, &[(metal_c, Unit::Celsius), (seconds, Unit::Second)], METAL);
    }

    fn surface(&mut self) {
        let reached = METAL_BURNS_SKIN.into_iter().find(|(_, metal_c)| self.hottest_c >= *metal_c);
        // While a regeneration runs the surface counts as hot whatever is read: it is about to be.
        let (seconds, metal_c) = reached.unwrap_or(METAL_BURNS_SKIN[0]);
        let (hot, held, metal) = (whole(self.hottest_c), plain_number(seconds), whole(metal_c));
        let sentence = format!("Metal here can be as hot as {hot} °C; at {metal} °C it burns skin within {held} s.");
        self.say(Hazard::HotSurface, sentence, &[(metal_c, Unit::Celsius), (seconds, Unit::Second)], METAL);
    }

    fn overloaded(&mut self, profile: &Profile, s: &Situation) {
        let g_per_l = s.soot_percent / 100.0 * profile.filter.full_load_g_per_l;
        let [lightest, .., heaviest] = BURN_PEAKS;
        let below = BURN_PEAKS.into_iter().rev().find(|(load, _)| g_per_l >= *load).unwrap_or(lightest);
        let more = if below == heaviest {
            String::new()
        } else {
            format!(", and with {} g/L {} °C", heaviest.0, whole(heaviest.1))
        };
        let (soot, load, peak) = (plain_number(g_per_l), below.0, whole(below.1));
        let sentence = format!(
            "The filter holds {soot} g/L of soot. Burning out of control, a filter with {load} g/L got as hot as {peak} °C{more}."
        );
        self.say(Hazard::OverloadedFilter, sentence, &[(below.0, Unit::GramPerLitre), (below.1, Unit::Celsius)], PEAKS);
    }

    fn dust(&mut self, profile: &Profile, s: &Situation) {
        let (ash, level) = (plain_number(s.ash_percent), plain_number(profile.ash_service_percent));
        let sentence =
            format!("Ash is at {ash} %; from {level} % the filter is opened and cleaned, and the dust is fine.");
        self.say(Hazard::Dust, sentence, &[(profile.ash_service_percent, Unit::Percent)], COMMON_PRACTICE);
    }
}

/// Whole degrees, as sentences give them.
fn whole(celsius: f64) -> String {
    plain_number(celsius.round())
}
