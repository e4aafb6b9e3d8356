//! Where the bench leads: the two plots, the gauge and the lamps at the end, what happened, what it cost, what to do.

use crate::domain::aftertreatment::explain::Verdict;
use crate::domain::aftertreatment::journey::{Bench, Costs};
use crate::domain::aftertreatment::lamp::Lamp;
use crate::domain::aftertreatment::pressure::{Channels, Gas, pressure_drop};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::aftertreatment::surroundings::{HazardReason, reasons};
use crate::domain::scenario::question::CautionWords;
use crate::domain::units::told::temperatures;
use crate::domain::units::{TemperatureUnit, plain_number};
use crate::web::plot::course::{self, degrees, percent};
use crate::web::plot::gauge::Gauge;
use crate::web::plot::line::LinePlot;
use crate::web::question_card::{LampShown, lamp_shown};
use serde::Serialize;

/// Most events that are listed; a long journey under the inhibit switch repeats itself.
const MOST_EVENTS: usize = 40;

/// A label with its value.
#[derive(Serialize)]
struct Fact {
    label: &'static str,
    value: String,
}

/// Something that happened on the way.
#[derive(Serialize)]
struct Happened {
    at: String,
    what: String,
}

/// What the page shows below the fields.
#[derive(Serialize)]
pub(super) struct Outcome {
    machine: String,
    soot: LinePlot,
    outlet: LinePlot,
    gauge: Gauge,
    lamps: Vec<LampShown>,
    facts: Vec<Fact>,
    instruction: String,
    because: String,
    events: Vec<Happened>,
    more_events: usize,
    costs: Vec<Fact>,
    cautions: Vec<CautionWords>,
    /// Why the cautions stand here, each with where its numbers come from.
    reasons: Vec<String>,
    extrapolated: bool,
}

/// Makes the journey and says where it leads.
pub(super) fn outcome(profile: &Profile, bench: &Bench, unit: TemperatureUnit) -> Outcome {
    let journey = bench.journey(profile);
    let judgement = journey.judgement(profile);
    let verdict = Verdict::of(profile, &journey.end.situation, &judgement, unit);
    let end = &journey.end.situation;
    let events = journey.events.iter().take(MOST_EVENTS);
    let events = events.map(|event| (event.point.seconds, event.sentence(profile, unit)));
    let at_first = journey.points.first().map(|point| (point.seconds, point.message(profile, unit)));
    let happened = at_first.into_iter().chain(events).map(|(seconds, what)| Happened { at: clock(seconds), what });
    Outcome {
        machine: profile.name.clone(),
        soot: course::soot(profile, &journey),
        outlet: course::outlet(profile, &journey, unit),
        gauge: Gauge::of(profile, Some((end.soot_percent * 10.0).round() / 10.0)),
        lamps: Lamp::ALL.into_iter().map(|lamp| lamp_shown(lamp, judgement.lamps.contains(lamp))).collect(),
        facts: vec![
            Fact { label: "Soot load at the end", value: percent(end.soot_percent) },
            Fact { label: "Outlet temperature at the end", value: degrees(end.outlet_c, unit) },
            Fact { label: "Engine power", value: percent(journey.end.power_percent) },
            Fact { label: "Back-pressure", value: back_pressure(profile, journey.costs.soot_left_g, end.ash_percent) },
        ],
        instruction: verdict.instruction,
        because: verdict.because,
        events: happened.collect(),
        more_events: journey.events.len().saturating_sub(MOST_EVENTS),
        costs: costs(&journey.costs),
        cautions: judgement.cautions(profile).into_iter().map(|caution| CautionWords::of(caution, unit)).collect(),
        reasons: reasons(profile, end).iter().map(|reason| in_words(reason, unit)).collect(),
        extrapolated: journey.extrapolated(),
    }
}

fn in_words(reason: &HazardReason, unit: TemperatureUnit) -> String {
    let confirmed = if reason.source.confirmed { "" } else { ", from memory, not confirmed" };
    format!("{} ({}{confirmed})", temperatures(&reason.sentence, unit), reason.source.name)
}

/// Of a filter of this volume with the channels and the gas of the published case: the profile describes no channels.
fn back_pressure(profile: &Profile, soot_g: f64, ash_percent: f64) -> String {
    let volume_l = profile.filter.volume_l;
    let drop = pressure_drop(&Channels::of_volume(volume_l), &Gas::of_volume(volume_l), soot_g, ash_percent);
    drop.map_or_else(|| "channels closed".to_owned(), |drop| format!("{} kPa", plain_number(drop.total_kpa())))
}

fn costs(costs: &Costs) -> Vec<Fact> {
    let grams = |value: f64| format!("{} g", plain_number((value * 10.0).round() / 10.0));
    vec![
        Fact { label: "Fuel for regeneration", value: format!("{} L", plain_number(costs.fuel_l)) },
        Fact { label: "Time in regeneration", value: minutes(costs.active_minutes + costs.parked_minutes) },
        Fact { label: "Soot that came in", value: grams(costs.soot_in_g) },
        Fact { label: "Burnt by work alone", value: grams(costs.burnt_passive_g) },
        Fact { label: "Burnt by active regeneration", value: grams(costs.burnt_active_g) },
        Fact { label: "Soot left", value: grams(costs.soot_left_g) },
    ]
}

/// Hours, minutes and seconds since the beginning: "3:07:20".
fn clock(seconds: f64) -> String {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a journey of some days, from 0")]
    let whole = seconds.round() as u64;
    format!("{}:{:02}:{:02}", whole / 3600, whole / 60 % 60, whole % 60)
}

fn minutes(value: f64) -> String {
    format!("{} min", plain_number(value.round()))
}
