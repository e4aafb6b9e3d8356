//! Every number of a profile's file, section by section as the file has them, in the reader's scale.
//!
//! Knows no field by name: a field that the profile gets one day is shown from that day on. Judges nothing; the text has
//! been read by the profile's own reader before.

use super::{Fact, heading, spaced};
use crate::domain::document::{Document, Section};
use crate::domain::units::{Quantity, TemperatureUnit, Unit, plain_number, told};
use serde::Serialize;

/// What the sheet shows in a manner of its own.
const SHOWN_ELSEWHERE: [&str; 4] = ["lamps", "band", "step", "caution"];

/// One section of the file.
#[derive(Debug, PartialEq, Eq, Serialize)]
pub(super) struct Group {
    title: String,
    facts: Vec<Fact>,
    /// What the section holds several of, as a table.
    rows: Option<Rows>,
}

/// Entries of one list, all with the same fields.
#[derive(Debug, PartialEq, Eq, Serialize)]
struct Rows {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// The sections of a file, in its order.
pub(super) fn groups(text: &str, unit: TemperatureUnit) -> Vec<Group> {
    let document = Document::parse("", text);
    let root = document.root();
    let keys = root.keys().into_iter().filter(|key| !SHOWN_ELSEWHERE.contains(&key.as_str()));
    let group = |key: String| {
        let title = heading(&key);
        // Asking for what is not there is noted in the document, which is dropped at the end.
        match root.optional_section(&key) {
            Some(section) => Some(Group { title, facts: facts(&section, unit), rows: inner_rows(&section, unit) }),
            None => rows(&root.tables(&key), unit).map(|rows| Group { title, facts: Vec::new(), rows: Some(rows) }),
        }
    };
    keys.filter_map(group).collect()
}

fn facts(section: &Section<'_>, unit: TemperatureUnit) -> Vec<Fact> {
    let fact = |key: String| Some(Fact { label: spaced(&key), value: value(section, &key, unit)? });
    section.keys().into_iter().filter_map(fact).collect()
}

/// The first list of tables inside a section.
fn inner_rows(section: &Section<'_>, unit: TemperatureUnit) -> Option<Rows> {
    section.keys().iter().find_map(|key| rows(&section.tables(key), unit))
}

fn rows(tables: &[Section<'_>], unit: TemperatureUnit) -> Option<Rows> {
    let keys = tables.first()?.keys();
    let row = |table: &Section<'_>| keys.iter().map(|key| value(table, key, unit).unwrap_or_default()).collect();
    Some(Rows { rows: tables.iter().map(row).collect(), columns: keys.iter().map(|key| spaced(key)).collect() })
}

fn value(section: &Section<'_>, key: &str, unit: TemperatureUnit) -> Option<String> {
    let text = || section.optional_text(key).map(|text| in_scale(&text, unit));
    let number = || section.optional_integer(key).map(|number| number.to_string());
    let truth = || section.optional_bool(key).map(|truth| if truth { "yes" } else { "no" }.to_owned());
    let list = || {
        let words: Vec<String> = section.optional_list(key)?.iter().map(|item| spaced(&item.text)).collect();
        Some(if words.is_empty() { "none".to_owned() } else { words.join(", ") })
    };
    text().or_else(number).or_else(truth).or_else(list)
}

/// A number or several numbers with one unit, or words, with temperatures in the reader's scale.
fn in_scale(text: &str, scale: TemperatureUnit) -> String {
    let is_number = |word: &&str| word.parse::<f64>().is_ok();
    let numbers: Vec<f64> =
        text.split_whitespace().take_while(is_number).filter_map(|number| number.parse().ok()).collect();
    let symbol: Vec<&str> = text.split_whitespace().skip(numbers.len()).collect();
    match Unit::from_text(&symbol.join(" ")) {
        Some(unit) if !numbers.is_empty() => {
            let shown = numbers.iter().map(|number| Quantity::new(*number, unit).for_reader(scale));
            let shown: Vec<Quantity> = shown.collect();
            let whole = |quantity: &Quantity| {
                // A temperature that was converted is told in whole degrees, like everywhere.
                plain_number(if quantity.unit == unit { quantity.value } else { quantity.value.round() })
            };
            let numbers: Vec<String> = shown.iter().map(whole).collect();
            let unit = shown.first().map_or(unit, |first| first.unit);
            format!("{} {}", numbers.join(" "), unit.symbol()).trim_end().to_owned()
        }
        _ => told::temperatures(text, scale).into_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = "id = \"m\"\n[filter]\nvolume = \"7.5 L\"\nnever_heard_of = \"3 h\"\n[outlet]\nlamp_at = \"430 °C\"\n\
        rows = [ { speed = \"850 rpm\", temperature = \"95 140 °C\" } ]\n[parked]\ninterlocks = [\"park_brake\", \"neutral\"]\n\
        count = 3\n[lamps]\nfilter = \"lit\"\n[[fault]]\ncode = \"3251\"\nlamp = true\n";

    fn fact(label: &str, value: &str) -> Fact {
        Fact { label: label.to_owned(), value: value.to_owned() }
    }

    #[test]
    fn every_field_of_a_file_is_shown_known_or_not() {
        let groups = groups(FILE, TemperatureUnit::Celsius);
        let titles: Vec<&str> = groups.iter().map(|group| group.title.as_str()).collect();
        assert_eq!(titles, ["Filter", "Outlet", "Parked", "Fault"]);
        assert_eq!(groups[0].facts, [fact("volume", "7.5 L"), fact("never heard of", "3 h")]);
        assert_eq!(groups[2].facts, [fact("interlocks", "park brake, neutral"), fact("count", "3")]);
        let faults = groups[3].rows.as_ref().unwrap();
        assert_eq!((&faults.columns[..], &faults.rows[0][..]), (
            &["code".to_owned(), "lamp".to_owned()][..],
            &["3251".to_owned(), "yes".to_owned()][..]
        ));
    }

    #[test]
    fn temperatures_are_in_the_readers_scale_also_several_in_a_row() {
        let groups = groups(FILE, TemperatureUnit::Fahrenheit);
        // From memory, not confirmed: NIST SP 811, F = 1.8 C + 32: 430 is 806, 95 is 203, 140 is 284.
        assert_eq!(groups[1].facts, [fact("lamp at", "806 °F")]);
        assert_eq!(groups[1].rows.as_ref().unwrap().rows[0], ["850 rpm", "203 284 °F"]);
    }
}
