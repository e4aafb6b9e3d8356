//! Reads a duty from CSV: what the machine and its operator do, one stretch of work per row, with commas or semicolons.
//!
//! Reports every problem with its line and column, never only the first, and never works on a part of a file.
//!
//! | column | value | left out or empty |
//! |---|---|---|
//! | `minutes` | length of the stretch, 0 to 60 000 | must be there |
//! | `load_percent` | engine load that the work asks for, 0 to 125 | must be there |
//! | `speed_rpm` | engine speed, 0 to 8000; at 0 the engine does not run | must be there |
//! | `ambient_c` | ambient temperature in °C, -50 to 60 | the one the machine's map holds for |
//! | `action` | what the operator does at its beginning, words in order with spaces between | nothing |

mod inputs;

pub(super) use inputs::{Given, Inputs};

use crate::domain::aftertreatment::journey::Stretch;
use crate::domain::aftertreatment::operator::OperatorAction;
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::document::{Problem, RowLines, nearest};
use csv::{Position, ReaderBuilder, StringRecord, Trim};
use std::ops::RangeInclusive;

const MINUTES: RangeInclusive<f64> = 0.0..=60_000.0;
const LOAD_PERCENT: RangeInclusive<f64> = 0.0..=125.0;
const SPEED_RPM: RangeInclusive<f64> = 0.0..=8000.0;
const AMBIENT_C: RangeInclusive<f64> = -50.0..=60.0;
/// Most minutes of a whole duty: 10 000 h. Chosen by us: longer than any filter goes between two services.
const WHOLE_MINUTES: f64 = 600_000.0;
const COLUMNS: [&str; 5] = ["minutes", "load_percent", "speed_rpm", "ambient_c", "action"];
const MUST: usize = 3;

/// What the long help says about the file.
pub(super) const FORM: &str = "\
THE DUTY is CSV, one stretch of steady work per row, with these columns:
  minutes                   its length, 0 to 60000
  load_percent              the engine load that the work asks for, 0 to 125
  speed_rpm                 engine speed, 0 to 8000; at 0 the engine does not run
  ambient_c                 ambient temperature in °C, -50 to 60; empty: the one the machine's map holds for
  action                    what the operator does at its beginning, in order, spaces between: key_on, key_off,
                            inhibit_on, inhibit_off, stand, drive, park_brake_on, park_brake_off, neutral_on,
                            neutral_off, attachment_down, attachment_up, start_parked, break_off_parked; empty: nothing
The last two columns may be left out.";

/// One row; the ambient temperature is empty where the machine's own counts.
#[derive(Debug, PartialEq)]
pub(super) struct Row {
    minutes: f64,
    load_percent: f64,
    speed_rpm: f64,
    ambient_c: Option<f64>,
    actions: Vec<OperatorAction>,
}

/// The rows as stretches of one machine's work.
pub(super) fn stretches(profile: &Profile, rows: Vec<Row>) -> Vec<Stretch> {
    let stretch = |row: Row| Stretch {
        minutes: row.minutes,
        load_percent: row.load_percent,
        speed_rpm: row.speed_rpm,
        ambient_c: row.ambient_c.unwrap_or(profile.thermal.reference_ambient_c),
        actions: row.actions,
    };
    rows.into_iter().map(stretch).collect()
}

/// Reads a duty. `file` is what messages call the text.
pub(super) fn read(file: &str, text: &str) -> Result<Vec<Row>, Vec<Problem>> {
    // Some spreadsheets put a mark before UTF-8.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let heading = text.lines().next().unwrap_or_default();
    let delimiter = if heading.contains(';') && !heading.contains(',') { b';' } else { b',' };
    let mut reader =
        ReaderBuilder::new().delimiter(delimiter).flexible(true).trim(Trim::All).from_reader(text.as_bytes());
    let lines = RowLines::of(text);
    let line_of = |at: Option<&Position>| at.map_or(0, |at| lines.line(at.byte()));
    let mut problems = Vec::new();
    let headings = reader.headers().cloned().unwrap_or_default();
    check_headings(file, &headings, &mut problems);
    let mut rows = Vec::new();
    for record in reader.records() {
        match record {
            Ok(record) if record.iter().all(str::is_empty) => {}
            Ok(record) => {
                let line = line_of(record.position());
                rows.extend(Reading { file, headings: &headings, record: &record, line, problems: &mut problems }.row())
            }
            Err(error) => {
                let line = line_of(error.position());
                problems.push(Problem::new(file, line, "row", format!("this is not CSV: {error}")));
            }
        }
    }
    let minutes: f64 = rows.iter().map(|row: &Row| row.minutes).sum();
    if problems.is_empty() && minutes <= 0.0 {
        problems.push(Problem::new(
            file,
            1,
            "minutes",
            "this duty takes no time; write a row with more than 0 minutes",
        ));
    }
    if minutes > WHOLE_MINUTES {
        problems.push(Problem::new(
            file,
            1,
            "minutes",
            format!("all rows together take {minutes} min; write at most {WHOLE_MINUTES}"),
        ));
    }
    problems.sort();
    if problems.is_empty() { Ok(rows) } else { Err(problems) }
}

fn check_headings(file: &str, headings: &StringRecord, problems: &mut Vec<Problem>) {
    for (place, heading) in headings.iter().enumerate() {
        if headings.iter().take(place).any(|earlier| earlier == heading) {
            problems.push(Problem::new(file, 1, heading, "this column stands twice; leave one"));
        } else if !COLUMNS.contains(&heading) {
            let hint = match nearest(heading, COLUMNS) {
                Some(meant) => format!("did you mean \"{meant}\"?"),
                None => format!("known are {}", COLUMNS.join(", ")),
            };
            problems.push(Problem::new(file, 1, heading, format!("nobody knows this column; {hint}")));
        }
    }
    for column in COLUMNS.iter().take(MUST).filter(|column| !headings.iter().any(|heading| heading == **column)) {
        problems.push(Problem::new(file, 1, *column, "this column is missing; the first line must name it"));
    }
}

/// One row while it is read.
struct Reading<'r> {
    file: &'r str,
    headings: &'r StringRecord,
    record: &'r StringRecord,
    line: u32,
    problems: &'r mut Vec<Problem>,
}

impl Reading<'_> {
    fn row(mut self) -> Option<Row> {
        if self.record.len() > self.headings.len() {
            let message =
                format!("the row has {} cells, but there are {} columns", self.record.len(), self.headings.len());
            self.report("row", message);
        }
        let minutes = self.number("minutes", MINUTES);
        let load_percent = self.number("load_percent", LOAD_PERCENT);
        let speed_rpm = self.number("speed_rpm", SPEED_RPM);
        let ambient_c =
            if self.cell("ambient_c").is_empty() { Some(None) } else { self.number("ambient_c", AMBIENT_C).map(Some) };
        let actions = self.actions();
        Some(Row {
            minutes: minutes?,
            load_percent: load_percent?,
            speed_rpm: speed_rpm?,
            ambient_c: ambient_c?,
            actions: actions?,
        })
    }

    fn report(&mut self, column: &str, message: String) {
        self.problems.push(Problem::new(self.file, self.line, column, message));
    }

    fn cell(&self, column: &str) -> String {
        let place = self.headings.iter().position(|heading| heading == column);
        place.and_then(|place| self.record.get(place)).unwrap_or_default().to_owned()
    }

    fn number(&mut self, column: &str, range: RangeInclusive<f64>) -> Option<f64> {
        // A column that is missing has been reported once, not in every row.
        self.headings.iter().position(|heading| heading == column)?;
        let cell = self.cell(column);
        let value = cell.parse::<f64>().ok().filter(|value| range.contains(value));
        if value.is_none() {
            let shown =
                if cell.is_empty() { "this is empty".to_owned() } else { format!("\"{cell}\" cannot stand here") };
            self.report(column, format!("{shown}; write a number from {} to {}", range.start(), range.end()));
        }
        value
    }

    fn actions(&mut self) -> Option<Vec<OperatorAction>> {
        let known = OperatorAction::ALL.map(OperatorAction::id);
        let mut actions = Some(Vec::new());
        for word in self.cell("action").split_whitespace() {
            if let Some(action) = OperatorAction::from_id(word) {
                if let Some(actions) = &mut actions {
                    actions.push(action);
                }
                continue;
            }
            actions = None;
            let hint = match nearest(word, known) {
                Some(meant) => format!("did you mean \"{meant}\"?"),
                None => format!("known are {}", known.join(", ")),
            };
            self.report("action", format!("\"{word}\" is not known here; {hint}"));
        }
        actions
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is wrong with a text, as it is printed.
    #[track_caller]
    fn check(text: &str, expected: &[&str]) {
        let problems = read("d.csv", text).expect_err("the text is wrong");
        let shown: Vec<String> = problems.iter().map(ToString::to_string).collect();
        assert_eq!(shown, expected);
    }

    #[test]
    fn a_duty_is_read() {
        let text = "\u{feff}minutes, load_percent,speed_rpm,ambient_c,action\n30,40,1600,,\n\n0.5,0,850,-5,stand park_brake_on\n";
        let rows = read("d.csv", text).expect("a duty");
        assert_eq!(rows.len(), 2);
        assert_eq!((rows[0].minutes, rows[0].ambient_c, rows[0].actions.len()), (30.0, None, 0));
        assert_eq!(rows[1].actions, [OperatorAction::Stand, OperatorAction::ParkBrakeOn]);
        assert_eq!(rows[1].ambient_c, Some(-5.0));
        assert!(
            read("d.csv", "speed_rpm,minutes,load_percent\n1600,5,40\n").is_ok(),
            "any order, two columns left out"
        );
    }

    #[test]
    fn every_problem_is_named_with_its_line_and_column() {
        check(
            "minutes,load_percent,speed_rpm,ambient_c,action\n-3,40,1600,20,\n5,,fast,99,start_parkd\n5,1,1,1,,6\n",
            &[
                "d.csv:2: minutes: \"-3\" cannot stand here; write a number from 0 to 60000",
                "d.csv:3: action: \"start_parkd\" is not known here; did you mean \"start_parked\"?",
                "d.csv:3: ambient_c: \"99\" cannot stand here; write a number from -50 to 60",
                "d.csv:3: load_percent: this is empty; write a number from 0 to 125",
                "d.csv:3: speed_rpm: \"fast\" cannot stand here; write a number from 0 to 8000",
                "d.csv:4: row: the row has 6 cells, but there are 5 columns",
            ],
        );
        check(
            "minuts,load_percent,load_percent\n1,2,3\n",
            &[
                "d.csv:1: load_percent: this column stands twice; leave one",
                "d.csv:1: minutes: this column is missing; the first line must name it",
                "d.csv:1: minuts: nobody knows this column; did you mean \"minutes\"?",
                "d.csv:1: speed_rpm: this column is missing; the first line must name it",
            ],
        );
    }

    #[test]
    fn a_row_is_named_by_its_line_whatever_ends_the_lines() {
        for ends in ["\n", "\r\n"] {
            let text = ["minutes,load_percent,speed_rpm", "5,40,1600", "", "5,fast,1600", ""].join(ends);
            check(&text, &["d.csv:4: load_percent: \"fast\" cannot stand here; write a number from 0 to 125"]);
        }
    }

    #[test]
    fn no_time_and_too_much_time_are_refused() {
        let head = "minutes,load_percent,speed_rpm\n";
        check(
            &format!("{head}0,40,1600\n"),
            &["d.csv:1: minutes: this duty takes no time; write a row with more than 0 minutes"],
        );
        assert!(read("d.csv", &format!("{head}{}", "60000,40,1600\n".repeat(11))).is_err());
        assert!(read("d.csv", "").is_err());
        assert!(read("d.csv", &format!("{head}NaN,40,1600\n")).is_err());
    }

    proptest::proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "[0-9a-z,\"\\n\\r é_.-]{0,60}") {
            let whole = format!("minutes,load_percent,speed_rpm,action\n{text}");
            for text in [&text, &whole] {
                if let Err(problems) = read("d.csv", text) {
                    proptest::prop_assert!(!problems.is_empty());
                }
            }
        }
    }
}
