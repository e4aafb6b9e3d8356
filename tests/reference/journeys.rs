//! What the trade and the literature say of a filter at work, held against journeys: properties of any machine, and the stated
//! hours and lengths on the test profile of common practice.

use super::duties::{common_practice, machines, random};
use sootmark::domain::aftertreatment::happening::Happening;
use sootmark::domain::aftertreatment::journey::{Bench, Journey, Stretch};
use sootmark::domain::aftertreatment::kinetics;
use sootmark::domain::aftertreatment::profile::{Coating, Profile};
use sootmark::domain::aftertreatment::situation::{Regeneration, Situation};

fn bench(profile: &Profile, load_percent: f64, speed_rpm: f64, hours: f64, soot_percent: f64) -> Bench {
    let ambient_c = profile.thermal.reference_ambient_c;
    Bench { load_percent, speed_rpm, hours, soot_percent, ambient_c, inhibit_on: false }
}

fn hours_of(journey: &Journey, wanted: Happening) -> Vec<f64> {
    let events = journey.events.iter().filter(|event| event.happening == wanted);
    events.map(|event| event.point.seconds / 3600.0).collect()
}

// Common practice, no published source: the first active cleaning at about 50 h, by itself, about half an hour at about
// 600 deg C.
#[test]
fn on_mixed_work_the_machine_cleans_itself_at_about_50_h() {
    let profile = common_practice();
    let journey = bench(&profile, 40.0, 1600.0, 60.0, 0.0).journey(&profile);
    let [begun] = hours_of(&journey, Happening::Started(Regeneration::Active))[..] else { panic!("one") };
    let [ended] = hours_of(&journey, Happening::Completed(Regeneration::Active))[..] else { panic!("one") };
    assert!((40.0..=60.0).contains(&begun), "{begun} h");
    assert!(((ended - begun) * 60.0 - 30.0).abs() < 1e-6, "{} min", (ended - begun) * 60.0);
    let left = journey.at(ended * 3600.0).situation;
    assert!(left.soot_percent < 1.0 && (left.outlet_c - 600.0).abs() < 1.0, "{left:?}");
}

// Common practice, no published source: heavy work at high speed brings 400 to 500 deg C, keeps the filter clean, and the
// exhaust-hot lamp alone is its sign.
#[test]
fn heavy_work_never_needs_an_active_regeneration() {
    let profile = common_practice();
    let journey = bench(&profile, 100.0, 2200.0, 100.0, 70.0).journey(&profile);
    assert!(hours_of(&journey, Happening::Started(Regeneration::Active)).is_empty());
    assert!(journey.end.situation.soot_percent < 20.0);
}

// Source: 40 CFR 1039.125(a), 2015 text: no filter cleaning or repair sooner than every 3 000 h below 130 kW.
#[test]
fn ash_grows_with_hours_alone_and_no_machine_needs_service_before_3000_h() {
    for machine in machines() {
        assert!(machine.ash_service_after_h >= 3000.0, "{}", machine.id);
        let grown = |load: f64, speed: f64| {
            let journey = bench(&machine, load, speed, 100.0, 10.0).journey(&machine);
            journey.end.situation.ash_percent
        };
        let expected = machine.ash_service_percent * 100.0 / machine.ash_service_after_h;
        super::close(grown(10.0, 1000.0), expected, 1e-9);
        super::close(grown(90.0, 2000.0), expected, 1e-9);
    }
}

#[test]
fn ash_that_reaches_its_level_is_told_once_at_its_hour() {
    let profile = common_practice();
    let per_hour = profile.ash_service_percent / profile.ash_service_after_h;
    let start = Situation { ash_percent: profile.ash_service_percent - 2.0 * per_hour, ..Situation::default() };
    let journey = Journey::make(&profile, &start, &[Stretch::work(&profile, 300.0, 60.0, 1800.0)]);
    let [due] = hours_of(&journey, Happening::AshDue)[..] else { panic!("once") };
    assert!((due - 2.0).abs() < 1e-6, "{due} h");
}

// Ash never burns; only service cleaning removes it. Source: Wang et al., doi 10.1080/15567036.2018.1550539 (it comes from oil).
#[test]
fn on_no_journey_does_ash_fall_or_time_go_back() {
    for number in 0..200 {
        let machine = &machines()[usize::try_from(number % 4).expect("small")];
        let (start, duty) = random(5000 + number);
        let journey = Journey::make(machine, &start, &duty);
        for pair in journey.points.windows(2) {
            assert!(pair[1].situation.ash_percent >= pair[0].situation.ash_percent, "journey {number}");
            assert!(pair[1].seconds >= pair[0].seconds, "journey {number}");
        }
        let minutes: f64 = duty.iter().map(|stretch| stretch.minutes).sum();
        assert!((journey.end.seconds - minutes * 60.0).abs() < 1e-6, "journey {number} ends with its duty");
        assert_eq!(Journey::make(machine, &start, &duty), journey, "the same again");
    }
}

// Properties that must hold for any profile: the rate rises with temperature and with NO2.
#[test]
fn rates_rise_with_temperature_and_with_no2() {
    for coating in Coating::ALL {
        for temp_c in (100..=700).step_by(10).map(f64::from) {
            for no2_ppm in [0.0, 10.0, 100.0, 500.0] {
                let rate = |temp_c: f64, no2_ppm: f64| kinetics::rate_per_s(coating, temp_c, no2_ppm);
                assert!(rate(temp_c + 1.0, no2_ppm) > rate(temp_c, no2_ppm));
                assert!(rate(temp_c, no2_ppm + 1.0) >= rate(temp_c, no2_ppm));
            }
        }
    }
}

// Source: Zhong et al. 2022, Chem. Eng. Sci. 262:118013 (trend only): more NO2 raises the temperature at which O2 takes over.
#[test]
fn more_no2_raises_the_temperature_at_which_oxygen_takes_over() {
    let takes_over = |no2_ppm: f64| {
        let over = |temp_c: &f64| {
            kinetics::rate_o2_per_s(Coating::Catalysed, *temp_c)
                > kinetics::rate_no2_per_s(Coating::Catalysed, *temp_c, no2_ppm)
        };
        (200..900).map(f64::from).find(over).expect("oxygen takes over somewhere")
    };
    let places = [20.0, 100.0, 300.0, 600.0].map(takes_over);
    assert!(places.windows(2).all(|pair| pair[1] > pair[0]), "{places:?}");
}

// Higher soot flow or a smaller filter gives a higher load.
#[test]
fn more_soot_or_a_smaller_filter_loads_faster() {
    let loaded = |from: &str, to: &str| {
        let text = include_str!("common_practice.toml");
        assert!(text.contains(from), "{from}");
        let profile = Profile::read("changed.toml", &text.replace(from, to)).expect("a whole profile");
        bench(&profile, 20.0, 1200.0, 5.0, 20.0).journey(&profile).end.situation.soot_percent
    };
    let usual = loaded("17.0 L", "17.0 L");
    assert!(loaded("17.0 L", "14.0 L") > usual, "a smaller filter");
    assert!(loaded("0.34 0.45", "0.34 0.65") > usual, "more soot");
}

#[test]
fn a_hot_day_cleans_better_than_a_cold_one() {
    let profile = common_practice();
    let left = |ambient_c: f64| {
        let usual = bench(&profile, 60.0, 1600.0, 5.0, 40.0);
        Bench { ambient_c, ..usual }.journey(&profile).end.situation
    };
    let (cold, hot) = (left(-15.0), left(40.0));
    assert!(hot.soot_percent < cold.soot_percent, "{} and {}", hot.soot_percent, cold.soot_percent);
    assert!((hot.outlet_c - cold.outlet_c - 55.0).abs() < 1e-6, "shifted by the difference");
}

// Source: Bai et al. 2016: engine-out soot of a 200 kW engine on a transient cycle, 0.62 mg/s, 2.2 g/h.
#[test]
fn the_reference_filter_gets_the_published_soot_in_an_hour() {
    let profile = common_practice();
    let costs = bench(&profile, 40.0, 1600.0, 1.0, 10.0).journey(&profile).costs;
    super::close(costs.soot_in_g, 2.2, 0.02);
}

// Common practice, no published source: a parked cleaning takes 30 to 45 min; the same must hold for every machine's own times.
#[test]
fn every_machine_cleans_itself_parked_within_its_stated_time() {
    use sootmark::domain::aftertreatment::operator::OperatorAction::StartParked;
    for machine in machines() {
        let ready = Situation {
            soot_percent: machine.parked.to_percent - 0.5,
            outlet_c: 150.0,
            standing: true,
            park_brake: true,
            neutral: true,
            attachment_down: true,
            ..Situation::default()
        };
        let duty = [Stretch::work(&machine, 90.0, 0.0, 1000.0).with(StartParked)];
        let journey = Journey::make(&machine, &ready, &duty);
        let [begun] = hours_of(&journey, Happening::Started(Regeneration::Parked))[..] else { panic!("one") };
        let [ended] = hours_of(&journey, Happening::Completed(Regeneration::Parked))[..] else { panic!("one") };
        let minutes = (ended - begun) * 60.0;
        let (shortest, longest) = (machine.parked.minutes_min, machine.parked.minutes_max);
        assert!((shortest - 1e-6..=longest + 1e-6).contains(&minutes), "{}: {minutes} min", machine.id);
        let left = journey.at(ended * 3600.0).situation.soot_percent;
        assert!(left < 5.0, "{}: {left} % left", machine.id);
    }
}
