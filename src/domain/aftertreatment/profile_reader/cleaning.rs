//! The ways of cleaning, the switch that holds them back, and the levels at which work ends.

use crate::aftertreatment::profile::{ActiveRule, InhibitRule, ParkedRule, PassiveRule};
use crate::aftertreatment::situation::Interlock;
use crate::document::Section;
use crate::units::Unit;
use std::ops::RangeInclusive;

/// Chosen by us, wide, to catch slips of unit and sign.
const SHARE_PERCENT: RangeInclusive<f64> = 1.0..=250.0;
const BURN_C: RangeInclusive<f64> = 450.0..=700.0;
const GAS_C: RangeInclusive<f64> = 450.0..=800.0;
const MINUTES: RangeInclusive<f64> = 1.0..=240.0;
const HOURS: RangeInclusive<f64> = 1.0..=5000.0;
const SPEED_RPM: RangeInclusive<f64> = 500.0..=4000.0;
const FUEL_L: RangeInclusive<f64> = 0.01..=20.0;
const COUNT: RangeInclusive<i64> = 1..=20;
const SLOW_FOR_S: RangeInclusive<f64> = 0.0..=600.0;
const RISE_S: RangeInclusive<f64> = 10.0..=900.0;
const SERVICE_AFTER_H: RangeInclusive<f64> = 100.0..=20_000.0;
/// Source: Fiebig et al. 2014, J. Occup. Med. Toxicol. 9:6: an oxidation catalyst lights off between 150 and 350 deg C.
const LIGHT_OFF_C: RangeInclusive<f64> = 150.0..=350.0;
/// Less soot than this is not told apart from none, and more is not clean. Chosen by us.
const CLEAN_PERCENT: RangeInclusive<f64> = 0.5..=20.0;
/// A machine that is to reach the workshop keeps some power. Chosen by us.
const POWER_PERCENT: RangeInclusive<f64> = 10.0..=100.0;

/// What the file says about cleaning.
pub(super) struct Cleaning {
    pub(super) passive: Option<PassiveRule>,
    pub(super) active: Option<ActiveRule>,
    pub(super) parked: Option<ParkedRule>,
    pub(super) inhibit: Option<InhibitRule>,
    pub(super) stop_above_percent: Option<f64>,
    pub(super) ash_service_percent: Option<f64>,
    pub(super) ash_service_after_h: Option<f64>,
}

impl Cleaning {
    pub(super) fn read(root: &Section<'_>) -> Self {
        Self {
            passive: root.section("passive").and_then(|section| {
                let advise_from_percent = section.quantity_within("advise_from", Unit::Percent, SHARE_PERCENT)?;
                Some(PassiveRule { advise_from_percent })
            }),
            active: root.section("active").and_then(|section| active(&section)),
            parked: root.section("parked").and_then(|section| parked(&section)),
            inhibit: root.section("inhibit").and_then(|section| inhibit(&section)),
            stop_above_percent: level(root, "stop", "above"),
            ash_service_percent: level(root, "ash", "service_from"),
            ash_service_after_h: root
                .section("ash")
                .and_then(|section| section.quantity_within("service_after", Unit::Hour, SERVICE_AFTER_H)),
        }
    }
}

fn level(root: &Section<'_>, section: &str, key: &str) -> Option<f64> {
    root.section(section)?.quantity_within(key, Unit::Percent, SHARE_PERCENT)
}

fn active(section: &Section<'_>) -> Option<ActiveRule> {
    let from = section.quantity_within("from", Unit::Percent, SHARE_PERCENT);
    let by = section.quantity_within("by", Unit::Percent, SHARE_PERCENT);
    let temperature = section.quantity_within("temperature", Unit::Celsius, BURN_C);
    let gas_up_to = section.quantity_within("gas_up_to", Unit::Celsius, GAS_C);
    let duration = section.quantity_within("duration", Unit::Minute, MINUTES);
    let min_speed = section.quantity_within("min_speed", Unit::Rpm, SPEED_RPM);
    let slow_for = section.quantity_within("slow_for", Unit::Second, SLOW_FOR_S);
    let light_off = section.quantity_within("light_off", Unit::Celsius, LIGHT_OFF_C);
    let rise = section.quantity_within("rise", Unit::Second, RISE_S);
    let retry_after = section.quantity_within("retry_after", Unit::Minute, MINUTES);
    let first_after = section.quantity_within("first_after", Unit::Hour, HOURS);
    let usual_every = section.quantity_within("usual_every", Unit::Hour, HOURS);
    let fuel = section.quantity_within("fuel", Unit::Litre, FUEL_L);
    Some(ActiveRule {
        from_percent: from?,
        by_percent: by?,
        temperature_c: temperature?,
        gas_up_to_c: gas_up_to?,
        minutes: duration?,
        min_speed_rpm: min_speed?,
        slow_for_s: slow_for?,
        light_off_c: light_off?,
        rise_s: rise?,
        retry_after_min: retry_after?,
        first_after_h: first_after?,
        usual_every_h: usual_every?,
        fuel_l: fuel?,
    })
}

fn parked(section: &Section<'_>) -> Option<ParkedRule> {
    let from = section.quantity_within("from", Unit::Percent, SHARE_PERCENT);
    let to = section.quantity_within("to", Unit::Percent, SHARE_PERCENT);
    let shortest = section.quantity_within("shortest", Unit::Minute, MINUTES);
    let longest = section.quantity_within("longest", Unit::Minute, MINUTES);
    let between = section.quantity_within("hours_between", Unit::Hour, HOURS);
    let unless = section.quantity_within("unless_above", Unit::Percent, SHARE_PERCENT);
    let temperature = section.quantity_within("temperature", Unit::Celsius, BURN_C);
    let rise = section.quantity_within("rise", Unit::Second, RISE_S);
    let speed = section.quantity_within("speed", Unit::Rpm, SPEED_RPM);
    let ends_at = section.quantity_within("ends_at", Unit::Percent, CLEAN_PERCENT);
    let interlocks = section.list_of("interlocks", &Interlock::ALL.map(Interlock::id), Interlock::from_id);
    let fuel = section.quantity_within("fuel", Unit::Litre, FUEL_L);
    Some(ParkedRule {
        from_percent: from?,
        to_percent: to?,
        minutes_min: shortest?,
        minutes_max: longest?,
        min_hours_between: between?,
        unless_above_percent: unless?,
        temperature_c: temperature?,
        rise_s: rise?,
        speed_rpm: speed?,
        ends_at_percent: ends_at?,
        interlocks: interlocks?,
        fuel_l: fuel?,
    })
}

fn inhibit(section: &Section<'_>) -> Option<InhibitRule> {
    let count = |key| section.integer_within(key, COUNT).and_then(|count| u32::try_from(count).ok());
    let (derate_after, parked_after) = (count("derate_after"), count("parked_after"));
    let power = section.quantity_within("power", Unit::Percent, POWER_PERCENT);
    Some(InhibitRule { derate_after: derate_after?, power_percent: power?, parked_after: parked_after? })
}
