//! `sootmark journey`: one machine taken through a duty, for a person, as JSON, as a table or as a drawing.
//!
//! Decides nothing: it reads the files, asks the model and prints. Never answers for files that were read in part.
//!
//! # The answer (`--json`)
//!
//! One JSON object. Fields are only ever added.
//!
//! | field | value |
//! |---|---|
//! | `machine`, `model_version` | the profile's id; the version of the filter model |
//! | `temperature_unit` | the scale of the sentences: `"celsius"`, `"fahrenheit"`; every `_c` is in °C all the same |
//! | `taken_as_usual` | the readings at the beginning that were left out, with the values they were taken to have |
//! | `points` | the trajectory: `seconds`, `outlet_c`, `soot_percent`, `ash_percent`, `load_percent`, `speed_rpm`, `power_percent`, `regeneration`, `state`, `lamps` |
//! | `events` | what happened: `seconds`, `what`, `soot_percent`, `outlet_c`, `because` |
//! | `costs` | `minutes`, `engine_minutes`, `active_minutes`, `parked_minutes`, `fuel_l`, `soot_start_g`, `soot_in_g`, `burnt_passive_g`, `burnt_active_g`, `burnt_parked_g`, `soot_left_g` |
//! | `state`, `message`, `signals` | the controller at the end; what the panel says; the J1939 signals as `spn`, `value` |
//! | `judgement` | what is right to do at the end, as `sootmark judge --json` says it: `band` to `hazards` |
//! | `extrapolated` | whether burning outside the measured range of 250 to 600 °C counted |
//! | `defers_to` | who decides at the machine |

mod drawing;
mod table;

use super::Failure;
use super::duty::{FORM, Given, Inputs};
use super::judge::{DEFERS_TO, plain};
use super::sheet::{Sheet, hand_over};
use crate::domain::aftertreatment::MODEL_VERSION;
use crate::domain::aftertreatment::controller::signals::{Signal, signals};
use crate::domain::aftertreatment::explain::Verdict;
use crate::domain::aftertreatment::journey::{Costs, Journey as Made};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::units::{Quantity, TemperatureUnit, Unit, plain_number};
use clap::Args;
use serde::Serialize;
use serde_json::{Map, Value};
use std::process::ExitCode;
use table::{EventLine, PointLine};

const FORMS: &str = "\
THE ANSWER with --json is one JSON object:
  machine, model_version    the profile's id; the version of the filter model
  temperature_unit          the scale of the sentences; every field that ends in _c is in °C all the same
  taken_as_usual            the readings at the beginning that were left out, with the values they were taken to have
  points                    the trajectory: seconds, outlet_c, soot_percent, ash_percent, load_percent, speed_rpm,
                            power_percent, regeneration, state, lamps
  events                    what happened: seconds, what, soot_percent, outlet_c, because
  costs                     minutes, engine_minutes, active_minutes, parked_minutes, fuel_l (extra, of regenerations),
                            soot_start_g, soot_in_g, burnt_passive_g, burnt_active_g, burnt_parked_g, soot_left_g
  state, message, signals   the controller at the end; what the panel says; J1939 signals as spn, value
  judgement                 what is right to do at the end, as sootmark judge --json says it
  extrapolated              whether burning outside the measured 250 to 600 °C counted
  defers_to                 who decides at the machine
With --csv it is the points as a table with the same columns, lamps with spaces between.
With --svg it is a drawing of soot load and outlet temperature over the hours.

EXIT CODES: 0 worked out; 1 a file is missing or wrong, every problem is on stderr;
2 the command line is wrong.";

/// Take one machine through a duty: temperature, soot, what happens and what it costs.
#[derive(Debug, Args)]
#[command(after_long_help = format!("{FORM}\n\n{FORMS}"))]
pub(super) struct Journey {
    #[command(flatten)]
    inputs: Inputs,
    /// Answer as JSON.
    #[arg(long, conflicts_with_all = ["csv", "svg"])]
    json: bool,
    /// Answer with the trajectory as CSV.
    #[arg(long, conflicts_with = "svg")]
    csv: bool,
    /// Answer with a drawing.
    #[arg(long)]
    svg: bool,
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
    taken_as_usual: Map<String, Value>,
    points: Vec<PointLine>,
    events: Vec<EventLine>,
    costs: Costs,
    state: &'static str,
    message: String,
    signals: [Signal; 11],
    judgement: Verdict,
    extrapolated: bool,
    defers_to: &'static str,
}

impl Journey {
    /// Runs the command.
    pub(super) fn run(self) -> Result<ExitCode, Failure> {
        let Some(given) = self.inputs.read()? else { return Ok(ExitCode::FAILURE) };
        let unit = if self.fahrenheit { TemperatureUnit::Fahrenheit } else { TemperatureUnit::Celsius };
        let made = Made::make(&given.profile, &given.start.situation, &given.duty);
        if self.json {
            hand_over(&(serde_json::to_string_pretty(&answer(&given, &made, unit))? + "\n"))?;
        } else if self.csv {
            hand_over(&table::csv(&given.profile, &made)?)?;
        } else if self.svg {
            hand_over(&drawing::svg(&given.profile, &made, unit))?;
        } else {
            told(&given, &made, unit).hand_over()?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

fn answer<'a>(given: &'a Given, made: &Made, unit: TemperatureUnit) -> Answer<'a> {
    let profile = &given.profile;
    let end = &made.end;
    Answer {
        machine: &profile.id,
        model_version: MODEL_VERSION,
        temperature_unit: unit,
        taken_as_usual: given.start.taken_as_usual.iter().cloned().collect(),
        points: made.points.iter().map(|point| PointLine::of(profile, point)).collect(),
        events: made.events.iter().map(|event| EventLine::of(profile, event, unit)).collect(),
        costs: made.costs,
        state: end.state.id(),
        message: end.message(profile, unit),
        signals: signals(profile, &end.situation, end.state),
        judgement: Verdict::of(profile, &end.situation, &made.judgement(profile), unit),
        extrapolated: made.extrapolated(),
        defers_to: DEFERS_TO,
    }
}

/// The answer for a person.
fn told(given: &Given, made: &Made, unit: TemperatureUnit) -> Sheet {
    let profile = &given.profile;
    let mut sheet = Sheet::default();
    sheet.line(&format!("{}, {} ({})", profile.name, profile.kind, profile.id));
    sheet.gap();
    for event in &made.events {
        sheet.beside(&table::clock(event.point.seconds), &event.sentence(profile, unit));
    }
    if made.events.is_empty() {
        sheet.beside("Nothing", "happens on the way.");
    }
    sheet.gap();
    costs(&mut sheet, made);
    sheet.gap();
    end(&mut sheet, profile, made, unit);
    sheet.gap();
    let usual = given.start.taken_as_usual.iter().map(|(field, value)| format!("{field} {}", plain(value)));
    let usual: Vec<String> = usual.collect();
    let not_said = if usual.is_empty() { String::new() } else { format!("Taken as {}.", usual.join(", ")) };
    sheet.beside("Not said", &not_said);
    if made.extrapolated() {
        sheet.beside("Limits", "Burning outside the measured range of the outlet temperature is extrapolated. Soot does not heat itself here.");
    }
    sheet.beside("Who decides", DEFERS_TO);
    sheet
}

fn costs(sheet: &mut Sheet, made: &Made) {
    let costs = &made.costs;
    let minutes = |minutes: f64| format!("{} min", plain_number((minutes * 10.0).round() / 10.0));
    let [time, active, parked] = [costs.minutes, costs.active_minutes, costs.parked_minutes].map(minutes);
    sheet.beside("Time", &format!("{time}, {active} of it in active and {parked} in parked regeneration."));
    sheet.beside("Extra fuel", &format!("{} L.", plain_number(costs.fuel_l)));
    let [start, came, left] = [costs.soot_start_g, costs.soot_in_g, costs.soot_left_g].map(plain_number);
    let [passive, active, parked] =
        [costs.burnt_passive_g, costs.burnt_active_g, costs.burnt_parked_g].map(plain_number);
    sheet.beside(
        "Soot",
        &format!(
            "{start} g at the beginning and {came} g that came; work burnt {passive} g, active regeneration {active} g, \
             parked regeneration {parked} g; {left} g are left."
        ),
    );
}

fn end(sheet: &mut Sheet, profile: &Profile, made: &Made, unit: TemperatureUnit) {
    let s = &made.end.situation;
    let outlet = Quantity::new(s.outlet_c, Unit::Celsius).for_reader(unit);
    let [soot, ash] = [s.soot_percent, s.ash_percent].map(|percent| plain_number((percent * 10.0).round() / 10.0));
    let outlet = Quantity::new(outlet.value.round(), outlet.unit);
    sheet.beside("At the end", &format!("Soot {soot} %, ash {ash} %, outlet {outlet}."));
    sheet.beside("The panel", &made.end.message(profile, unit));
    let judgement = made.judgement(profile);
    sheet.beside("Do first", &format!("{}.", judgement.route.instruction()));
    sheet.beside("Why", &judgement.reason.sentence(unit));
    for caution in judgement.cautions(profile) {
        sheet.beside(caution.signal.word(), &format!("{} {} {}", caution.what, caution.consequence, caution.avoid));
    }
}
