//! `sootmark log`: what a machine's log says, what the model makes of its last moment, and a scenario from it.
//!
//! Decides nothing: it reads two files, asks the model and prints. Whatever is wrong with the log, what was readable is
//! told; the exit code says that something was wrong.
//!
//! # The log
//!
//! Lines of CAN frames in the open text forms of the Linux CAN utilities, or a table of decoded signals: a line of headings,
//! then one line for each moment, divided by commas, semicolons or tabs. An empty cell says nothing; `not_available` and
//! `error` are said as such. A heading may also be a number of the standard, such as `SPN 3719`.
//!
//! # The answer (`--json`)
//!
//! One JSON object.
//!
//! | field | value |
//! |---|---|
//! | `machine`, `model_version` | the profile's id; the version of the filter model |
//! | `temperature_unit` | the scale of the sentences: `"celsius"`, `"fahrenheit"` |
//! | `lines` | what became of the lines: `all`, `used`, `blank`, `refused`, `ignored` (what, how many), `ignored_columns` |
//! | `seconds` | from the first reading to the last; null in a log without times |
//! | `readings` | each number that was said: `first`, `last`, `least`, `most` |
//! | `events` | what changed: `line`, `at_s` since the first reading, `event` with its details, `says` |
//! | `journey` | stretches of work: `from_s`, `seconds`, mean `load_percent` and `speed_rpm` |
//! | `last` | the last moment, or null: `line`, `at_s`, `filter` (lamps, status, `held_back_by`), `situation`, `said`, `missing`, `old` |
//! | `judgement` | the model's answer for it, as `sootmark judge` gives it, or null |
//! | `problems` | `line`, `field`, `message` |
//! | `defers_to` | who decides at the machine |

mod answer;
mod told;

use super::files::{named, text_of};
use super::sheet::{counted, hand_over};
use super::{Failure, say};
use crate::domain::aftertreatment::machine_log::{MachineLog, Moment};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::document::Problem;
use crate::domain::scenario::from_log::scenario_of;
use crate::domain::units::TemperatureUnit;
use clap::Args;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

const FORMS: &str = r#"THE LOG has lines of CAN frames in a text form of the Linux CAN utilities
  (1772439452.250000) can0 18FD7C00#F994FFFFFFFFFFFF
  (1772439452.250000)  can0  18FD7C00   [8]  F9 94 FF FF FF FF FF FF     (the time may be left out)
or it is a table of decoded signals, divided by commas, semicolons or tabs:
  time_s,soot_percent,outlet_c,filter_lamp
  0,71,310,on
Headings: time_s and
  soot_percent, ash_percent, since_active_s, threshold_percent, inlet_c, outlet_c,
  pressure_drop_kpa, speed_rpm, load_percent, vehicle_km_per_h
  park_brake, passive, inhibited, inhibit_switch, not_in_neutral, park_brake_off,
  low_exhaust_temperature, permanent_lockout, engine_cold (yes, no)
  filter_lamp (off, on, blinking), exhaust_hot_lamp (off, on)
  active (not_active, active, needed)
  status (not_needed, needed_lowest, needed_moderate, needed_highest)
or numbers of the standard, such as SPN 3719.
An empty cell says nothing; any cell may say not_available or error.

THE ANSWER with --json is one JSON object:
  machine, model_version    the profile's id; the version of the filter model
  temperature_unit          the scale of the sentences: "celsius", "fahrenheit"
  lines                     what became of the lines: all, used, blank, refused,
                            ignored (what, and how many), ignored_columns
  seconds                   from the first reading to the last; null in a log without times
  readings                  each number that was said: first, last, least, most
  events                    what changed: line, at_s since the first reading,
                            event with its details, says
  journey                   stretches of work: from_s, seconds, mean load_percent and speed_rpm
  last                      the last moment, or null: line, at_s,
                            filter (lamps, status, held_back_by), situation, said,
                            missing (field, why), old (word, seconds before the end)
  judgement                 the model's answer for it, as `sootmark judge` gives it, or null
  problems                  line, field, message
  defers_to                 who decides at the machine

EXIT CODES: 0 no problem; 1 problems, all of them told, or a file is missing or wrong;
2 the command line is wrong."#;

/// Read a machine's log: what it says, what happened, and what the model makes of its last moment.
#[derive(Debug, Args)]
#[command(after_long_help = FORMS)]
pub(super) struct Log {
    /// The log; - reads stdin.
    log: PathBuf,
    /// The profile of the machine that the log is of, as in question-bank/machines/.
    #[arg(long, value_name = "FILE")]
    machine: PathBuf,
    /// Answer as JSON.
    #[arg(long)]
    json: bool,
    /// Answer in °F. The log is in °C all the same.
    #[arg(long)]
    fahrenheit: bool,
    /// Write a scenario about the last moment for this competence, for a trainer to go on with.
    #[arg(long, value_name = "COMPETENCE", conflicts_with_all = ["json", "fahrenheit"])]
    scenario: Option<String>,
}

/// A log with everything that was found in it.
struct Found<'a> {
    profile: &'a Profile,
    log: MachineLog,
    last: Option<Moment>,
    problems: Vec<Problem>,
    unit: TemperatureUnit,
}

impl Log {
    /// Runs the command.
    pub(super) fn run(self) -> Result<ExitCode, Failure> {
        if [&self.machine, &self.log].into_iter().all(|file| file == Path::new("-")) {
            return Err("the log and --machine cannot both be -: name a file for one of them".into());
        }
        let machine = text_of("--machine", &self.machine)?;
        let profile = match Profile::read(&named(&self.machine), &machine) {
            Ok(profile) => profile,
            Err(problems) => {
                tell(&problems);
                return Err("--machine: correct what is listed and try again".into());
            }
        };
        let file = named(&self.log);
        let log = MachineLog::read(&file, &lossy_text_of(&self.log)?);
        let mut problems = log.problems.clone();
        problems.extend(log.against(&file, &profile));
        problems.sort();
        let last = log.last_moment();
        let unit = if self.fahrenheit { TemperatureUnit::Fahrenheit } else { TemperatureUnit::Celsius };
        let found = Found { profile: &profile, log, last, problems, unit };
        match &self.scenario {
            Some(competence) => return scenario(&found, competence),
            None if self.json => drop(hand_over(&(serde_json::to_string_pretty(&answer::answer(&found))? + "\n"))?),
            None => drop(told::told(&found).hand_over()?),
        }
        Ok(found.exit_code())
    }
}

impl Found<'_> {
    /// Tells the problems and says whether there were any.
    fn exit_code(&self) -> ExitCode {
        tell(&self.problems);
        if self.problems.is_empty() {
            return ExitCode::SUCCESS;
        }
        say(&format!("{} in the log. What could be read was told.", counted(self.problems.len(), "problem")));
        ExitCode::FAILURE
    }
}

/// The scenario alone on stdout: what is wrong with the log is said beside it.
fn scenario(found: &Found<'_>, competence: &str) -> Result<ExitCode, Failure> {
    let Some(last) = &found.last else {
        tell(&found.problems);
        return Err("no scenario: no line of the log says anything about a filter or an engine".into());
    };
    match scenario_of(found.profile, last, competence) {
        Ok(text) => {
            hand_over(&text)?;
            Ok(found.exit_code())
        }
        Err(problems) => {
            tell(&found.problems);
            tell(&problems);
            Err("no scenario: the last moment of the log gives no question".into())
        }
    }
}

fn tell(problems: &[Problem]) {
    for problem in problems {
        say(&problem.to_string());
    }
}

/// A log may have bytes that are no text: its other lines are read all the same.
fn lossy_text_of(file: &Path) -> Result<String, Failure> {
    super::files::bytes_of("the log", file).map(|bytes| String::from_utf8_lossy(&bytes).into_owned())
}
