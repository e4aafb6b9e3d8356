//! The fences of a lesson: what each word draws, from the TOML in its body and the machines of the bank.
//!
//! Never guesses: a fence with anything wrong is not drawn, and every problem in it is named.

use super::{BandRow, LampRow, Part, StepRow, plots};
use crate::domain::aftertreatment::hazard::{Hazard, SignalWord};
use crate::domain::aftertreatment::journey::Bench;
use crate::domain::aftertreatment::profile::{Band, Caution, LampMeaning, Profile};
use crate::domain::bank::Bank;
use crate::domain::document::{Document, Problem, Section};
use crate::domain::scenario::question::CautionWords;
use crate::domain::units::{TemperatureUnit, Unit, plain_number, told};
use crate::web::plot::gauge::Gauge;
use crate::web::question_card::lamp_shown;

/// The words that draw something. Any other fence is a piece of text.
pub(super) const WORDS: [&str; 6] = ["plot", "bands", "lamps", "procedure", "cautions", "caution"];

/// Draws a fence.
pub(super) fn draw(
    word: &str,
    file: &str,
    body: &str,
    bank: &Bank,
    unit: TemperatureUnit,
) -> Result<Part, Vec<Problem>> {
    let document = Document::parse(file, body);
    let root = document.root();
    let part = match word {
        "plot" => plot(&root, bank, unit),
        "bands" => profile(&root, bank).map(bands),
        "lamps" => profile(&root, bank).map(lamps),
        "procedure" => profile(&root, bank).map(procedure),
        "cautions" => cautions(&root, bank, unit),
        _ => caution(&root, unit),
    };
    let problems = document.finish();
    part.filter(|_| problems.is_empty()).ok_or(problems)
}

fn profile<'b>(root: &Section<'_>, bank: &'b Bank) -> Option<&'b Profile> {
    let known: Vec<&str> = bank.machines().map(|machine| machine.profile.id.as_str()).collect();
    root.one_of("machine", &known, |id| bank.machine(id)).map(|machine| &machine.profile)
}

fn plot(root: &Section<'_>, bank: &Bank, unit: TemperatureUnit) -> Option<Part> {
    let known = ["burnt_against_temperature", "load_against_hours", "outlet_against_load", "bench"];
    let kind = root.one_of("kind", &known, |kind| known.iter().position(|known| *known == kind));
    let profile = profile(root, bank)?;
    let (plot, note) = match kind? {
        0 => plots::burnt_against_temperature(profile, unit),
        1 => plots::load_against_hours(profile, unit),
        2 => plots::outlet_against_load(profile, unit),
        _ => {
            let speeds = profile.soot_mg_per_s.speeds_rpm();
            let (slowest, fastest) = (speeds.first().copied()?, speeds.last().copied()?);
            let load = root.quantity_within("load", Unit::Percent, 0.0..=100.0);
            let speed = root.quantity_within("speed", Unit::Rpm, slowest..=fastest);
            let hours = root.quantity_within("hours", Unit::Hour, 0.1..=100.0);
            let soot = root.quantity_within("soot", Unit::Percent, 0.0..=200.0);
            let inhibit_on = root.optional_bool("inhibit").unwrap_or(false);
            plots::on_the_bench(
                profile,
                &Bench {
                    load_percent: load?,
                    speed_rpm: speed?,
                    hours: hours?,
                    soot_percent: soot?,
                    ambient_c: profile.thermal.reference_ambient_c,
                    inhibit_on,
                },
                unit,
            )
        }
    };
    Some(Part::Plot { plot, note })
}

pub(super) fn bands(profile: &Profile) -> Part {
    let row = |band: &Band| BandRow {
        name: band.name.clone(),
        load: if band.to_percent.is_finite() {
            format!("{} to {} %", plain_number(band.from_percent), plain_number(band.to_percent))
        } else {
            format!("from {} %", plain_number(band.from_percent))
        },
        lamps: listed(band.lamps.iter().map(|lamp| lamp.name().to_owned())),
        ways: listed(band.ways.iter().map(|way| way.id().to_owned())),
        power: format!("{} %", plain_number(band.power_percent)),
    };
    Part::Bands {
        machine: profile.name.clone(),
        gauge: Gauge::of(profile, None),
        bands: profile.bands.iter().map(row).collect(),
    }
}

/// Words with commas; "none" for an empty list.
fn listed(words: impl Iterator<Item = String>) -> String {
    let words: Vec<String> = words.collect();
    if words.is_empty() { "none".to_owned() } else { words.join(", ") }
}

pub(super) fn lamps(profile: &Profile) -> Part {
    let row = |of: &LampMeaning| LampRow { lamps: vec![lamp_shown(of.lamp, true)], means: of.means.clone() };
    Part::Lamps { machine: profile.name.clone(), lamps: profile.lamps.iter().map(row).collect() }
}

pub(super) fn procedure(profile: &Profile) -> Part {
    let steps = profile.procedure.iter().map(|step| StepRow {
        action: step.action.clone(),
        reason: step.reason.clone(),
        critical: step.critical,
    });
    Part::Procedure { machine: profile.name.clone(), steps: steps.collect() }
}

fn cautions(root: &Section<'_>, bank: &Bank, unit: TemperatureUnit) -> Option<Part> {
    let known: Vec<&str> = Hazard::ALL.iter().map(|hazard| hazard.id()).collect();
    let hazards = root.list_of("hazards", &known, Hazard::from_id);
    let profile = profile(root, bank)?;
    let hazards = hazards?;
    if hazards.is_empty() {
        root.report("hazards", "name at least one hazard");
        return None;
    }
    Some(worst_first(hazards.into_iter().filter_map(|hazard| profile.caution(hazard)), unit))
}

/// A machine's words for hazards.
pub(super) fn worst_first<'p>(cautions: impl Iterator<Item = &'p Caution>, unit: TemperatureUnit) -> Part {
    let mut all: Vec<CautionWords> = cautions.map(|caution| CautionWords::of(caution, unit)).collect();
    all.sort_by_key(|caution| caution.signal);
    Part::Cautions { all }
}

fn caution(root: &Section<'_>, unit: TemperatureUnit) -> Option<Part> {
    let signal = root.one_of("signal", &["danger", "warning", "caution", "notice"], SignalWord::from_id);
    let (what, consequence, avoid) = (root.text("what"), root.text("consequence"), root.text("avoid"));
    let told = |text: String| told::temperatures(&text, unit).into_owned();
    let (what, consequence, avoid) = (told(what?), told(consequence?), told(avoid?));
    let one = CautionWords { signal: signal?, what, consequence, avoid };
    Some(Part::Cautions { all: vec![one] })
}
