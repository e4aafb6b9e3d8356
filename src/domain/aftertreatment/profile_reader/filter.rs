//! The filter, the soot that reaches it, and how hot it gets.

use crate::aftertreatment::maps::{Curve, GridError, Map};
use crate::aftertreatment::profile::{Coating, EngineRule, Filter, ThermalRule};
use crate::document::Section;
use crate::units::Unit;
use std::ops::RangeInclusive;

/// Ranges that a number of a working machine cannot leave. Chosen by us, wide, to catch slips of unit and sign: filters of
/// 19-560 kW engines hold a few to some tens of litres; a hotter outlet than 750 deg C is a fault, not a profile.
const VOLUME_L: RangeInclusive<f64> = 0.5..=100.0;
const FULL_LOAD_G_PER_L: RangeInclusive<f64> = 1.0..=20.0;
const LOAD_PERCENT: RangeInclusive<f64> = 0.0..=125.0;
const SPEED_RPM: RangeInclusive<f64> = 300.0..=8000.0;
const SOOT_MG_PER_S: RangeInclusive<f64> = 0.0..=20.0;
const OUTLET_C: RangeInclusive<f64> = 20.0..=750.0;
const NO2_PPM: RangeInclusive<f64> = 0.0..=2000.0;
const EXHAUST_HOT_C: RangeInclusive<f64> = 200.0..=700.0;
const AMBIENT_C: RangeInclusive<f64> = -20.0..=45.0;
const TIME_CONSTANT_S: RangeInclusive<f64> = 10.0..=1800.0;
const COOLING_S: RangeInclusive<f64> = 60.0..=14_400.0;
const WARM_AFTER_S: RangeInclusive<f64> = 30.0..=3600.0;
const COLD_AFTER_S: RangeInclusive<f64> = 300.0..=86_400.0;

/// What the file says about the filter and the exhaust.
pub(super) struct Hardware {
    pub(super) filter: Option<Filter>,
    pub(super) soot_mg_per_s: Option<Map>,
    pub(super) outlet_c: Option<Map>,
    pub(super) no2_ppm: Option<Curve>,
    pub(super) exhaust_hot_at_c: Option<f64>,
    pub(super) thermal: Option<ThermalRule>,
    pub(super) engine: Option<EngineRule>,
}

impl Hardware {
    pub(super) fn read(root: &Section<'_>) -> Self {
        let outlet = root.section("outlet");
        Self {
            filter: root.section("filter").and_then(|section| filter(&section)),
            soot_mg_per_s: root
                .section("soot")
                .and_then(|section| map(&section, "flow", Unit::MilligramPerSecond, SOOT_MG_PER_S)),
            outlet_c: outlet.as_ref().and_then(|section| map(section, "temperature", Unit::Celsius, OUTLET_C)),
            no2_ppm: root.section("no2").and_then(|section| no2(&section)),
            thermal: outlet.as_ref().and_then(thermal),
            engine: root.section("engine").and_then(|section| engine(&section)),
            exhaust_hot_at_c: outlet
                .and_then(|section| section.quantity_within("exhaust_hot_at", Unit::Celsius, EXHAUST_HOT_C)),
        }
    }
}

fn filter(section: &Section<'_>) -> Option<Filter> {
    let volume_l = section.quantity_within("volume", Unit::Litre, VOLUME_L);
    let full_load_g_per_l = section.quantity_within("full_load", Unit::GramPerLitre, FULL_LOAD_G_PER_L);
    let coating = section.one_of("coating", &Coating::ALL.map(Coating::id), Coating::from_id);
    Some(Filter { volume_l: volume_l?, full_load_g_per_l: full_load_g_per_l?, coating: coating? })
}

fn thermal(section: &Section<'_>) -> Option<ThermalRule> {
    let reference_ambient = section.quantity_within("reference_ambient", Unit::Celsius, AMBIENT_C);
    let time_constant = section.quantity_within("time_constant", Unit::Second, TIME_CONSTANT_S);
    let cooling = section.quantity_within("cooling", Unit::Second, COOLING_S);
    Some(ThermalRule { reference_ambient_c: reference_ambient?, time_constant_s: time_constant?, cooling_s: cooling? })
}

fn engine(section: &Section<'_>) -> Option<EngineRule> {
    let warm_after = section.quantity_within("warm_after", Unit::Second, WARM_AFTER_S);
    let cold_after = section.quantity_within("cold_after", Unit::Second, COLD_AFTER_S);
    Some(EngineRule { warm_after_s: warm_after?, cold_after_s: cold_after? })
}

/// A map: `load` is one row of loads, `rows` has a `speed` and as many values as there are loads.
fn map(section: &Section<'_>, key: &str, unit: Unit, range: RangeInclusive<f64>) -> Option<Map> {
    let loads = section.series_within("load", Unit::Percent, LOAD_PERCENT);
    let rows = section.tables("rows");
    if rows.is_empty() {
        section.report("rows", format!("a map needs rows, such as {{ speed = \"1500 rpm\", {key} = \"... {unit}\" }}"));
    }
    // Every row is read before any is judged, so that each names its own faults.
    let rows: Vec<_> = rows
        .iter()
        .map(|row| (row.quantity_within("speed", Unit::Rpm, SPEED_RPM), row.series_within(key, unit, range.clone())))
        .collect();
    let (speeds, values): (Vec<_>, Vec<_>) = rows.into_iter().unzip();
    let speeds = speeds.into_iter().collect::<Option<Vec<_>>>();
    let values = values.into_iter().collect::<Option<Vec<_>>>();
    let map = built(section, "rows", Map::new(loads?, speeds?, values?))?;
    covers_work(section, &map).then_some(map)
}

/// A map that does not span a machine's work would answer from its edge all day.
fn covers_work(section: &Section<'_>, map: &Map) -> bool {
    let (first, last) = ends(map.loads_percent());
    if first > 0.0 || last < 100.0 {
        let message = format!("the loads go from {first} % to {last} %; a map must reach from 0 % to 100 %");
        section.report("load", message);
        return false;
    }
    true
}

fn no2(section: &Section<'_>) -> Option<Curve> {
    let temperatures = section.series_within("temperature", Unit::Celsius, OUTLET_C);
    let values = section.series_within("no2", Unit::Ppm, NO2_PPM);
    built(section, "temperature", Curve::new(temperatures?, values?))
}

fn built<T>(section: &Section<'_>, key: &str, made: Result<T, GridError>) -> Option<T> {
    made.map_err(|error| section.report(key, error.to_string())).ok()
}

pub(super) fn ends(axis: &[f64]) -> (f64, f64) {
    (axis[0], axis[axis.len() - 1])
}
