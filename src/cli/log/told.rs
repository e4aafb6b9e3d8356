//! The answer of `sootmark log` for a person.
//!
//! Says first what the log holds and last what the model makes of it: nobody should take one for the other.

use super::Found;
use super::answer::usual;
use crate::cli::judge::Answer;
use crate::cli::sheet::{Sheet, counted};
use crate::domain::aftertreatment::machine_log::{LineCount, MachineLog, NUMBER_PLACES};
use crate::domain::units::{Quantity, TemperatureUnit, Unit, plain_number};

/// Most events that a person is shown; the others are in the JSON. Chosen by us: two screens.
const MOST_EVENTS: usize = 40;

const NO_PLACE: &str = "The log knows nothing of the place. What follows holds for bare soil in the open with nobody and \
                        nothing that burns near the outlet. Look at the place before you do any of it.";

/// The sheet for what was found.
pub(super) fn told(found: &Found<'_>) -> Sheet {
    let mut sheet = Sheet::default();
    let profile = found.profile;
    sheet.line(&format!("{}, {} ({})", profile.name, profile.kind, profile.id));
    sheet.gap();
    lines(&mut sheet, &found.log.lines);
    readings(&mut sheet, found);
    events(&mut sheet, &found.log);
    let Some(moment) = &found.last else { return sheet };
    sheet.gap();
    sheet.line(&format!("The last moment{}", when(found.log.since_start(moment.at_us), moment.line)));
    sheet.gap();
    sheet.beside("Look first", NO_PLACE);
    Answer::of(profile, &moment.situation, found.unit).told(&mut sheet, profile, &usual(moment));
    let old: Vec<String> =
        moment.old.iter().map(|old| format!("{} ({} before the end)", old.word, lasting(old.seconds))).collect();
    sheet.beside("Old", &if old.is_empty() { String::new() } else { format!("Not said again: {}.", old.join(", ")) });
    sheet
}

fn lines(sheet: &mut Sheet, lines: &LineCount) {
    let count = |lines: u32| counted(usize::try_from(lines).unwrap_or(usize::MAX), "line");
    let LineCount { all, used, blank, refused, ignored, ignored_columns } = lines;
    sheet.beside(
        "Log",
        &format!("{}: {used} used, {} ignored, {blank} blank, {refused} refused.", count(*all), lines.ignored_lines()),
    );
    let ignored: Vec<String> = ignored.iter().map(|(what, lines)| format!("{what} ({})", count(*lines))).collect();
    sheet.beside("Ignored", &ignored.join(", "));
    sheet.beside("", &ignored_columns.iter().map(|column| format!("column {column}")).collect::<Vec<_>>().join(", "));
}

fn readings(sheet: &mut Sheet, found: &Found<'_>) {
    sheet.beside("Lasts", &found.log.seconds().map(lasting).unwrap_or_default());
    let mut label = "Readings";
    for (word, span) in found.log.spans() {
        let name = NUMBER_PLACES.iter().find(|place| place.word == word).map_or(word, |place| place.name);
        let [first, last, least, most] =
            [span.first, span.last, span.least, span.most].map(|number| reading(word, number, found.unit));
        let says = if span.least == span.most {
            format!("{name}: {first} throughout.")
        } else {
            format!("{name}: {first} first, {last} last, between {least} and {most}.")
        };
        sheet.beside(label, &says);
        label = "";
    }
}

/// A number with the unit that its word ends with.
fn reading(word: &str, number: f64, unit: TemperatureUnit) -> String {
    let plain = plain_number(number);
    match word.rsplit_once('_').map(|(_, unit)| unit) {
        Some("percent") => format!("{plain} %"),
        Some("c") => {
            let celsius = Quantity::new(number.round(), Unit::Celsius).for_reader(unit);
            Quantity::new(celsius.value.round(), celsius.unit).to_string()
        }
        Some("s") => lasting(number),
        Some("h") => format!("{plain} km/h"),
        Some("kpa") => format!("{plain} kPa"),
        Some("rpm") => format!("{} rpm", number.round()),
        _ => plain,
    }
}

fn events(sheet: &mut Sheet, log: &MachineLog) {
    let mut label = "Happened";
    for event in log.events.iter().take(MOST_EVENTS) {
        sheet.beside(label, &format!("{}{}", event.what, when(log.since_start(event.at_us), event.line)));
        label = "";
    }
    if log.events.len() > MOST_EVENTS {
        sheet.beside("", &format!("and {} more: --json has them all.", log.events.len() - MOST_EVENTS));
    }
}

fn when(at_s: Option<f64>, line: u32) -> String {
    match at_s {
        Some(seconds) => format!(", after {} (line {line})", lasting(seconds)),
        None => format!(" (line {line})"),
    }
}

/// A time as people say it.
fn lasting(seconds: f64) -> String {
    let own = Quantity::new(seconds, Unit::Second);
    let unit = match seconds {
        below if below < 120.0 => Unit::Second,
        below if below < 7200.0 => Unit::Minute,
        _ => Unit::Hour,
    };
    let value = own.in_unit(unit).unwrap_or(seconds);
    Quantity::new((value * 10.0).round() / 10.0, unit).to_string()
}
