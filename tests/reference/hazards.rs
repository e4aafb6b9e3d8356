//! The numbers that hazards are explained with, each held against its source.

use super::close;
use sootmark::domain::aftertreatment::hazard::{self, Hazard, HazardSet};
use sootmark::domain::aftertreatment::profile::Profile;
use sootmark::domain::aftertreatment::situation::{Enclosure, Ground, Regeneration, Situation};
use sootmark::domain::aftertreatment::surroundings::{self, HazardReason, reasons};
use sootmark::domain::units::{Quantity, Unit};

fn profile() -> Profile {
    Profile::read("common_practice.toml", include_str!("common_practice.toml")).expect("a good profile")
}

/// Fahrenheit as the source prints it, in deg C.
fn from_f(fahrenheit: f64) -> f64 {
    Quantity::new(fahrenheit, Unit::Fahrenheit).in_unit(Unit::Celsius).expect("a temperature")
}

#[test]
fn every_number_is_its_sources() {
    // Source: US Forest Service 0351 1305 (2003): fine fuels ignite at 400 to 500 deg F.
    let (from, to) = surroundings::FINE_FUELS_IGNITE_C;
    assert!((from - from_f(400.0)).abs() < 0.5 && (to - from_f(500.0)).abs() < 0.5);
    // Source: Markova 2022, BioResources 17(4):6926: hay on a hot plate.
    close(surroundings::HAY_IGNITES_C, 406.0, 0.0);
    // Source: WHO 1996 (secondary): autoignition of diesel fuel no. 2.
    assert_eq!(surroundings::DIESEL_IGNITES_C, (254.0, 285.0));
    // From memory, not confirmed: ISO 13732-1, bare metal: 1 s 65 to 70 deg C, 10 s 55 deg C, 1 min 51 deg C.
    assert_eq!(surroundings::METAL_BURNS_SKIN, [(1.0, 65.0), (10.0, 55.0), (60.0, 51.0)]);
    for source in [surroundings::METAL, surroundings::HOT_WORK_NEWER] {
        assert!(!source.confirmed, "{} is from memory and must be called so", source.name);
    }
    // Source: 29 CFR 1910.252(a)(2): 35 ft, and a watch of at least half an hour. One foot is 0.3048 m.
    close(surroundings::CLEARANCE_M, 35.0 * 0.3048, 5e-3);
    close(surroundings::WATCH_MIN, 30.0, 0.0);
    // From memory, not confirmed: NFPA 51B-2019.
    close(surroundings::LONGER_WATCH_MIN, 60.0, 0.0);
    // Source: OSHA (PEL, 8 h) and NIOSH (REL, time-weighted, and ceiling) for carbon monoxide.
    close(surroundings::CO_PERMITTED_PPM, 50.0, 0.0);
    close(surroundings::CO_RECOMMENDED_PPM, 35.0, 0.0);
    close(surroundings::CO_CEILING_PPM, 200.0, 0.0);
    // Source: Liu et al. 2021, Processes 9:1403, fig. 8 (simulated), inlet 600 deg C.
    assert_eq!(surroundings::BURN_PEAKS, [(3.0, 636.7), (6.0, 790.3), (9.0, 935.6)]);
}

/// Every combination of what matters at a place.
fn places() -> impl Iterator<Item = Situation> {
    let grounds = Ground::ALL.into_iter().flat_map(|ground| Enclosure::ALL.map(|enclosure| (ground, enclosure)));
    let states = grounds.flat_map(|place| Regeneration::ALL.map(|regeneration| (place, regeneration)));
    let hot = states.flat_map(|state| [40.0, 53.0, 60.0, 210.0, 300.0, 500.0].map(|outlet_c| (state, outlet_c)));
    hot.flat_map(|(((ground, enclosure), regeneration), outlet_c)| {
        (0_u8..32).map(move |bits| Situation {
            ground,
            enclosure,
            regeneration,
            outlet_c,
            people_near: bits & 1 != 0,
            fuel_near: bits & 2 != 0,
            overhead: bits & 4 != 0,
            soot_percent: if bits & 8 == 0 { 60.0 } else { 150.0 },
            ash_percent: if bits & 16 == 0 { 10.0 } else { 120.0 },
            ..Situation::default()
        })
    })
}

/// A hazard without a reason would be a bare assertion; a reason without its hazard a false alarm.
#[test]
fn every_hazard_that_is_present_has_its_reasons_and_no_other_has() {
    let profile = profile();
    for situation in places() {
        let found = reasons(&profile, &situation);
        let explained: HazardSet = found.iter().map(|reason| reason.hazard).collect::<Vec<_>>().into();
        assert_eq!(explained, hazard::present(&profile, &situation), "{situation:?}");
        for HazardReason { sentence, figures, source, .. } in found {
            assert!(sentence.ends_with('.') && !figures.is_empty() && !source.name.is_empty(), "{sentence}");
            assert!(figures.iter().all(|figure| figure.value.is_finite()));
        }
    }
}

fn sources(situation: &Situation, hazard: Hazard) -> Vec<&'static str> {
    let found = reasons(&profile(), situation).into_iter().filter(|reason| reason.hazard == hazard);
    found.map(|reason| reason.source.name).collect()
}

#[test]
fn the_reasons_are_those_of_the_place() {
    use surroundings::{COMMON_PRACTICE, DIESEL, FINE_FUELS, HAY, HOT_WORK, HOT_WORK_NEWER};
    let names = |sources: &[surroundings::Source]| sources.iter().map(|source| source.name).collect::<Vec<_>>();
    // Gas of 300 deg C lights dry grass (204 deg C) but no hay against a hot plate (406 deg C).
    let grass = Situation { outlet_c: 300.0, ground: Ground::Straw, ..Situation::default() };
    assert_eq!(sources(&grass, Hazard::Fire), names(&[FINE_FUELS, HOT_WORK, HOT_WORK_NEWER]));
    let straw = Situation { outlet_c: 410.0, ..grass };
    assert_eq!(sources(&straw, Hazard::Fire), names(&[FINE_FUELS, HAY, HOT_WORK, HOT_WORK_NEWER]));
    // Gas of 230 deg C lights chaff and not yet diesel fuel (254 deg C).
    let fuel = Situation { outlet_c: 230.0, fuel_near: true, ..Situation::default() };
    assert_eq!(sources(&fuel, Hazard::Fire), names(&[FINE_FUELS, HOT_WORK, HOT_WORK_NEWER]));
    let hotter = Situation { outlet_c: 260.0, overhead: true, ..fuel };
    assert_eq!(sources(&hotter, Hazard::Fire), names(&[FINE_FUELS, DIESEL, COMMON_PRACTICE, HOT_WORK, HOT_WORK_NEWER]));
    // Common practice, no published source: a running regeneration counts as hot before the outlet is.
    let begun = Situation {
        outlet_c: 120.0,
        regeneration: Regeneration::Active,
        ground: Ground::Straw,
        ..Situation::default()
    };
    assert_eq!(sources(&begun, Hazard::Fire), names(&[FINE_FUELS, HAY, HOT_WORK, HOT_WORK_NEWER]));
}

#[test]
fn the_analogy_is_called_one() {
    let fire = Situation { outlet_c: 300.0, ground: Ground::Stubble, ..Situation::default() };
    let found = reasons(&profile(), &fire);
    let rule = found.iter().find(|reason| reason.source == surroundings::HOT_WORK).expect("the clearance");
    // Source: 29 CFR 1910.252(a)(2) is a rule for welding, cutting and brazing.
    assert!(rule.sentence.contains("not legally hot work") && rule.sentence.contains("analogy"), "{}", rule.sentence);
}
