//! `sootmark forecast`: where a duty that is worked over and over takes the soot, for a person or as JSON.
//!
//! Decides nothing: it reads the files, asks the model and prints. By work alone: no regeneration runs in it.
//!
//! # The answer (`--json`)
//!
//! One JSON object. Fields are only ever added.
//!
//! | field | value |
//! |---|---|
//! | `machine`, `model_version` | the profile's id; the version of the filter model |
//! | `temperature_unit` | the scale of the sentences: `"celsius"`, `"fahrenheit"`; every `_c` is in °C all the same |
//! | `from_percent`, `round_h` | the soot load at the beginning; hours of one round of the duty |
//! | `bands` | when each other band is entered: `band`, `at_percent`, `hours` (`null` for never), `because` |
//! | `active_after_h` | hours until an active regeneration is due; `null` for never |
//! | `settles_from_percent`, `settles_to_percent` | where the soot settles; `null` when it rises without end |
//! | `keeps_clean`, `because` | whether work alone keeps the soot below the active level, and why |
//! | `flow_mg_per_s`, `outlet_from_c`, `outlet_to_c` | mean soot flow; lowest and highest outlet temperature, engine running |
//! | `keeps_up_from_c`, `keeps_up` | outlet temperature from which passive cleaning keeps up (`null` for none), as a sentence |
//! | `extrapolated` | whether burning outside the measured range of 250 to 600 °C counted |
//! | `defers_to` | who decides at the machine |

use super::Failure;
use super::duty::{FORM, Given, Inputs};
use super::judge::DEFERS_TO;
use super::sheet::{Sheet, hand_over};
use crate::domain::aftertreatment::MODEL_VERSION;
use crate::domain::aftertreatment::forecast::Forecast as Ahead;
use crate::domain::units::{TemperatureUnit, plain_number};
use clap::Args;
use serde::Serialize;
use std::process::ExitCode;

const FORMS: &str = "\
Of the operator's actions only key_on and key_off count. Of the situation only soot_percent counts.

THE ANSWER with --json is one JSON object:
  machine, model_version    the profile's id; the version of the filter model
  temperature_unit          the scale of the sentences; every field that ends in _c is in °C all the same
  from_percent, round_h     the soot load at the beginning; hours of one round of the duty
  bands                     when each other band is entered: band, at_percent, hours (null for never), because
  active_after_h            hours until an active regeneration is due; null for never
  settles_from_percent, settles_to_percent
                            where the soot settles; null when it rises without end
  keeps_clean, because      whether work alone keeps the soot below the active level, and why
  flow_mg_per_s, outlet_from_c, outlet_to_c
                            mean soot flow; lowest and highest outlet temperature while the engine runs
  keeps_up_from_c, keeps_up outlet temperature from which passive cleaning keeps up (null for none), as a sentence
  extrapolated              whether burning outside the measured 250 to 600 °C counted
  defers_to                 who decides at the machine

EXIT CODES: 0 worked out; 1 a file is missing or wrong, every problem is on stderr;
2 the command line is wrong.";

/// Look ahead on a duty that is worked over and over: when each soot band is entered, and whether work alone is enough.
#[derive(Debug, Args)]
#[command(after_long_help = format!("{FORM}\n\n{FORMS}"))]
pub(super) struct Forecast {
    #[command(flatten)]
    inputs: Inputs,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
    /// Answer in °F. The files and every _c are in °C all the same.
    #[arg(long)]
    fahrenheit: bool,
}

/// The answer as JSON.
#[derive(Serialize)]
struct Answer<'a> {
    machine: &'a str,
    model_version: u32,
    temperature_unit: TemperatureUnit,
    from_percent: f64,
    round_h: f64,
    bands: Vec<BandLine<'a>>,
    active_after_h: Option<f64>,
    settles_from_percent: Option<f64>,
    settles_to_percent: Option<f64>,
    keeps_clean: bool,
    because: String,
    flow_mg_per_s: f64,
    outlet_from_c: f64,
    outlet_to_c: f64,
    keeps_up_from_c: Option<f64>,
    keeps_up: String,
    extrapolated: bool,
    defers_to: &'static str,
}

#[derive(Serialize)]
struct BandLine<'a> {
    band: &'a str,
    at_percent: f64,
    hours: Option<f64>,
    because: String,
}

impl Forecast {
    /// Runs the command.
    pub(super) fn run(self) -> Result<ExitCode, Failure> {
        let Some(given) = self.inputs.read()? else { return Ok(ExitCode::FAILURE) };
        let unit = if self.fahrenheit { TemperatureUnit::Fahrenheit } else { TemperatureUnit::Celsius };
        let ahead = Ahead::make(&given.profile, given.start.situation.soot_percent, &given.duty)
            .ok_or("--duty: takes no time; write a row with more than 0 minutes")?;
        let answer = answer(&given, &ahead, unit);
        if self.json {
            hand_over(&(serde_json::to_string_pretty(&answer)? + "\n"))?;
        } else {
            told(&given, &answer).hand_over()?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

fn answer<'a>(given: &'a Given, ahead: &Ahead, unit: TemperatureUnit) -> Answer<'a> {
    let profile = &given.profile;
    let finite = |percent: f64| Some(percent).filter(|percent| percent.is_finite());
    let bands = ahead.bands.iter().map(|(place, arrival)| BandLine {
        band: &profile.bands[*place].id,
        at_percent: arrival.percent,
        hours: arrival.hours,
        because: ahead.band_sentence(profile, *place, arrival, unit),
    });
    Answer {
        machine: &profile.id,
        model_version: MODEL_VERSION,
        temperature_unit: unit,
        from_percent: ahead.from_percent,
        round_h: ahead.round_h,
        bands: bands.collect(),
        active_after_h: ahead.active.hours,
        settles_from_percent: finite(ahead.settles_percent.0),
        settles_to_percent: finite(ahead.settles_percent.1),
        keeps_clean: ahead.keeps_clean,
        because: ahead.keeps_clean_sentence(profile, unit),
        flow_mg_per_s: ahead.flow_mg_per_s,
        outlet_from_c: ahead.outlet_c.0,
        outlet_to_c: ahead.outlet_c.1,
        keeps_up_from_c: ahead.keeps_up_from_c,
        keeps_up: ahead.keeps_up_sentence(profile, unit),
        extrapolated: ahead.extrapolated(),
        defers_to: DEFERS_TO,
    }
}

/// The answer for a person.
fn told(given: &Given, answer: &Answer<'_>) -> Sheet {
    let profile = &given.profile;
    let mut sheet = Sheet::default();
    sheet.line(&format!("{}, {} ({})", profile.name, profile.kind, profile.id));
    sheet.gap();
    sheet.beside("From", &format!("{} % soot, by work alone.", plain_number(answer.from_percent)));
    for band in &answer.bands {
        sheet.beside(&profile.band_by_id(band.band).map_or("", |band| band.name.as_str()).to_owned(), &band.because);
    }
    sheet.gap();
    sheet.beside("Work alone", &answer.because);
    sheet.beside("Heat", &answer.keeps_up);
    sheet.gap();
    if answer.extrapolated {
        sheet.beside("Limits", "Burning outside the measured range of the outlet temperature is extrapolated. Soot does not heat itself here.");
    }
    sheet.beside("Who decides", DEFERS_TO);
    sheet
}
