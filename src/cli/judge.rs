//! `sootmark judge`: the model's answer for one machine at one moment, for a person or as JSON.
//!
//! Decides nothing: it reads two files, asks the model and prints. Never answers for a situation that was read in part.
//!
//! # The situation
//!
//! One JSON object. Every field may be left out; it is then as on a warm machine at work on bare soil in the open with a
//! clean filter, and the answer says what was taken so. Temperatures are in °C, whatever scale the answer is wanted in.
//!
//! | field | value | left out |
//! |---|---|---|
//! | `soot_percent`, `ash_percent` | 0 to 250 | 0 |
//! | `outlet_c` | filter outlet in °C | 250 |
//! | `speed_rpm`, `load_percent` | engine speed; engine load | 1800; 40 |
//! | `hours_since_parked` | engine hours since the last parked regeneration | 100 |
//! | `inhibits` | active regenerations held back or broken off in a row | 0 |
//! | `regeneration` | the one that runs: `"none"`, `"active"`, `"parked"` | `"none"` |
//! | `ground` | `"bare_soil"`, `"concrete"`, `"gravel"`, `"stubble"`, `"dry_grass"`, `"straw"` | `"bare_soil"` |
//! | `enclosure` | `"open"`, `"open_sided"`, `"closed"` | `"open"` |
//! | `engine_running`, `engine_warm` | `true`, `false` | `true` |
//! | `standing`, `park_brake`, `neutral`, `attachment_down`, `inhibit_on` | `true`, `false` | `false` |
//! | `people_near`, `fuel_near`, `overhead` | at the exhaust outlet: `true`, `false` | `false` |
//!
//! # The answer (`--json`)
//!
//! One JSON object.
//!
//! | field | value |
//! |---|---|
//! | `machine`, `model_version` | the profile's id; the version of the filter model |
//! | `temperature_unit` | the scale of the sentences: `"celsius"`, `"fahrenheit"` |
//! | `taken_as_usual` | the fields of the situation that were left out, with the values they were taken to have |
//! | `band`, `lamps`, `derated` | the band's word; the lamps that must be lit; whether engine power is reduced |
//! | `route`, `instruction` | what to do first, as a word and as an instruction |
//! | `rule`, `because` | the rule that decided, and what it compared |
//! | `permitted` | what may be done now |
//! | `forbidden` | what must not be done: `action`, `because` |
//! | `hazards` | what can hurt somebody here and now |
//! | `reasons` | why each hazard is there: `hazard`, `sentence`, `figures`, `source` |
//! | `cautions` | worst first: `signal` (`"danger"`, `"warning"`, `"caution"`, `"notice"`), `what`, `consequence`, `avoid` |
//! | `extrapolated` | whether the answer rests on burning outside the measured range of 250 to 600 °C |
//! | `defers_to` | who decides at the machine |

pub(super) mod reading;

use super::files::{named, text_of};
use super::sheet::{Sheet, hand_over};
use super::{Failure, say};
use crate::domain::aftertreatment::MODEL_VERSION;
use crate::domain::aftertreatment::explain::Verdict;
use crate::domain::aftertreatment::judgement::judge;
use crate::domain::aftertreatment::kinetics::{Conditions, MEASURED_FROM_C, MEASURED_TO_C};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::aftertreatment::situation::Situation;
use crate::domain::aftertreatment::surroundings::{HazardReason, reasons};
use crate::domain::document::Problem;
use crate::domain::scenario::question::CautionWords;
use crate::domain::units::told::temperatures;
use crate::domain::units::{Quantity, TemperatureUnit, Unit, plain_number};
use clap::Args;
use serde::Serialize;
use serde_json::{Map, Value};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

pub(super) const DEFERS_TO: &str =
    "These are training values. The operator's manual of the machine, local codes and licensed practice decide.";

const FORMS: &str = r#"THE SITUATION is one JSON object, such as
  {"soot_percent": 95, "outlet_c": 180, "standing": true, "park_brake": true, "ground": "straw"}
Every field may be left out; it is then as shown here, and the answer says so:
  soot_percent 0, ash_percent 0 (0 to 250)
  outlet_c 250 (filter outlet, always in °C)
  speed_rpm 1800, load_percent 40 (the engine's)
  hours_since_parked 100 (engine hours since the last parked regeneration ended)
  inhibits 0 (active regenerations held back or broken off in a row)
  regeneration "none" (the one that runs: "active", "parked")
  ground "bare_soil" ("concrete", "gravel", "stubble", "dry_grass", "straw")
  enclosure "open" ("open_sided", "closed")
  engine_running, engine_warm true
  standing, park_brake, neutral, attachment_down, inhibit_on false
  people_near, fuel_near, overhead false (at the exhaust outlet)

THE ANSWER with --json is one JSON object:
  machine, model_version    the profile's id; the version of the filter model
  temperature_unit          the scale of the sentences: "celsius", "fahrenheit"
  taken_as_usual            the fields that were left out, with the values they were taken to have
  band, lamps               the band's word; the lamps that must be lit
  derated                   whether engine power is reduced
  route, instruction        what to do first, as a word and as an instruction
  rule, because             the rule that decided, and what it compared
  permitted                 what may be done now
  forbidden                 what must not be done: action, because
  hazards                   what can hurt somebody here and now
  reasons                   why each is: hazard, sentence, figures, source
  cautions                  worst first: signal ("danger", "warning", "caution", "notice"),
                            what, consequence, avoid
  extrapolated              whether the answer rests on burning outside the measured 250 to 600 °C
  defers_to                 who decides at the machine

EXIT CODES: 0 judged; 1 a file is missing or wrong, every problem is on stderr;
2 the command line is wrong."#;

/// Judge one machine at one moment: what to do first and why, what is permitted, what is forbidden, what is dangerous.
#[derive(Debug, Args)]
#[command(after_long_help = FORMS)]
pub(super) struct Judge {
    /// The machine's profile, as in question-bank/machines/; - reads stdin.
    #[arg(long, value_name = "FILE")]
    machine: PathBuf,
    /// The situation as JSON; - reads stdin.
    #[arg(long, value_name = "FILE")]
    situation: PathBuf,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
    /// Answer in °F. The situation is in °C all the same.
    #[arg(long)]
    fahrenheit: bool,
}

/// The answer as JSON.
#[derive(Serialize)]
pub(super) struct Answer<'a> {
    machine: &'a str,
    model_version: u32,
    temperature_unit: TemperatureUnit,
    pub(super) taken_as_usual: Map<String, Value>,
    #[serde(flatten)]
    verdict: Verdict,
    reasons: Vec<HazardReason>,
    cautions: Vec<CautionWords>,
    extrapolated: bool,
    defers_to: &'static str,
}

impl Judge {
    /// Runs the command.
    pub(super) fn run(self) -> Result<ExitCode, Failure> {
        if [&self.machine, &self.situation].into_iter().all(|file| file == Path::new("-")) {
            return Err("--machine and --situation cannot both be -: name a file for one of them".into());
        }
        let machine = text_of("--machine", &self.machine)?;
        let situation = text_of("--situation", &self.situation)?;
        let profile = Profile::read(&named(&self.machine), &machine);
        let read = reading::read(&named(&self.situation), &situation);
        let (profile, read) = match (profile, read) {
            (Ok(profile), Ok(read)) => (profile, read),
            (profile, read) => return Ok(refused(&[profile.err(), read.err()])),
        };
        let unit = if self.fahrenheit { TemperatureUnit::Fahrenheit } else { TemperatureUnit::Celsius };
        let answer = Answer::of(&profile, &read.situation, unit);
        if self.json {
            let taken_as_usual = read.taken_as_usual.into_iter().collect();
            hand_over(&(serde_json::to_string_pretty(&Answer { taken_as_usual, ..answer })? + "\n"))?;
        } else {
            let mut sheet = Sheet::default();
            sheet.line(&format!("{}, {} ({})", profile.name, profile.kind, profile.id));
            answer.told(&mut sheet, &profile, &read.taken_as_usual);
            sheet.hand_over()?;
        }
        Ok(ExitCode::SUCCESS)
    }
}

impl<'a> Answer<'a> {
    /// The model's answer, with nothing taken as usual.
    pub(super) fn of(profile: &'a Profile, situation: &Situation, unit: TemperatureUnit) -> Self {
        let judgement = judge(profile, situation);
        let cautions = judgement.cautions(profile).into_iter();
        Self {
            machine: &profile.id,
            model_version: MODEL_VERSION,
            temperature_unit: unit,
            verdict: Verdict::of(profile, situation, &judgement, unit),
            reasons: reasons(profile, situation)
                .into_iter()
                .map(|reason| HazardReason { sentence: temperatures(&reason.sentence, unit).into_owned(), ..reason })
                .collect(),
            cautions: cautions.map(|caution| CautionWords::of(caution, unit)).collect(),
            extrapolated: extrapolated(profile, situation),
            defers_to: DEFERS_TO,
            taken_as_usual: Map::new(),
        }
    }

    /// The answer for a person, without the machine's name.
    pub(super) fn told(&self, sheet: &mut Sheet, profile: &Profile, taken_as_usual: &[(String, Value)]) {
        let verdict = &self.verdict;
        sheet.gap();
        sheet.beside("Do first", &format!("{}.", verdict.instruction));
        sheet.beside("Why", &verdict.because);
        sheet.beside("Soot band", profile.band_by_id(&verdict.band).map_or("", |band| &band.name));
        let lit: Vec<&str> = verdict.lamps.iter().map(|lamp| lamp.name()).collect();
        sheet.beside("Lamps lit", &if lit.is_empty() { "none".to_owned() } else { lit.join(", ") });
        sheet.beside("Power", if verdict.derated { "reduced" } else { "full" });
        sheet.gap();
        let mut label = "You may";
        for action in verdict.permitted.iter() {
            sheet.beside(label, &format!("{}.", action.phrase()));
            label = "";
        }
        sheet.gap();
        label = "You must not";
        for forbidden in &verdict.forbidden {
            sheet.beside(label, &format!("{}. {}", forbidden.action.phrase(), forbidden.because));
            label = "";
        }
        if !self.cautions.is_empty() {
            sheet.gap();
        }
        for CautionWords { signal, what, consequence, avoid } in &self.cautions {
            sheet.beside(signal.word(), &format!("{what} {consequence} {avoid}"));
        }
        label = "Numbers";
        for HazardReason { sentence, source, .. } in &self.reasons {
            let confirmed = if source.confirmed { "" } else { ", from memory, not confirmed" };
            sheet.beside(label, &format!("{sentence} ({}{confirmed})", source.name));
            label = "";
        }
        sheet.gap();
        let usual: Vec<String> =
            taken_as_usual.iter().map(|(field, value)| format!("{field} {}", plain(value))).collect();
        let usual = if usual.is_empty() { String::new() } else { format!("Taken as {}.", usual.join(", ")) };
        sheet.beside("Not said", &usual);
        if self.extrapolated {
            let end = |value| Quantity::new(value, Unit::Celsius).for_reader(self.temperature_unit);
            let (from, to) = (end(MEASURED_FROM_C), end(MEASURED_TO_C));
            sheet.beside(
                "Limits",
                &format!("The burning of soot was measured from {from} to {to}; here it is extrapolated."),
            );
        }
        sheet.beside("Who decides", DEFERS_TO);
    }
}

/// Burning decides only where more load is advised and the machine does not yet clean itself; elsewhere the answer
/// rests on levels and on the place.
fn extrapolated(profile: &Profile, situation: &Situation) -> bool {
    let advised = profile.passive.advise_from_percent..profile.active.from_percent;
    advised.contains(&situation.soot_percent) && Conditions::of(profile, situation).extrapolated()
}

fn refused(problems: &[Option<Vec<Problem>>]) -> ExitCode {
    for problem in problems.iter().flatten().flatten() {
        say(&problem.to_string());
    }
    say("Not judged. Correct what is listed and try again.");
    ExitCode::FAILURE
}

/// A value of the situation without quotes or a needless ".0".
pub(super) fn plain(value: &Value) -> String {
    value.as_str().map(str::to_owned).or_else(|| value.as_f64().map(plain_number)).unwrap_or_else(|| value.to_string())
}
