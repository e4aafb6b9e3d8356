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
    table: Option<Table>,
}

/// What a section holds row by row.
#[derive(Debug, PartialEq, Eq, Serialize)]
struct Table {
    caption: String,
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One or several numbers with one unit, in the reader's scale.
struct Series {
    numbers: Vec<String>,
    symbol: &'static str,
}

/// The sections of a file, in its order.
pub(super) fn groups(text: &str, scale: TemperatureUnit) -> Vec<Group> {
    let document = Document::parse("", text);
    let root = document.root();
    let keys = root.keys().into_iter().filter(|key| !SHOWN_ELSEWHERE.contains(&key.as_str()));
    let group = |key: String| {
        let title = heading(&key);
        // Asking for what is not there is noted in the document, which is dropped at the end.
        if let Some(section) = root.optional_section(&key) {
            let (table, told) = map(&section, scale).unzip();
            let told: Vec<String> = told.unwrap_or_default();
            let table = table.or_else(|| entries(&title, &inner(&section), scale));
            let rest = section.keys().into_iter().filter(|key| !told.contains(key));
            let fact = |key: String| Some(Fact { label: spaced(&key), value: value(&section, &key, scale)? });
            Some(Group { facts: rest.filter_map(fact).collect(), table, title })
        } else {
            let table = Some(entries(&title, &root.tables(&key), scale)?);
            Some(Group { title, facts: Vec::new(), table })
        }
    };
    keys.filter_map(group).collect()
}

/// The first list of tables inside a section; empty when there is none.
fn inner<'d>(section: &Section<'d>) -> Vec<Section<'d>> {
    let lists = section.keys().into_iter().map(|key| section.tables(&key));
    lists.into_iter().find(|tables| !tables.is_empty()).unwrap_or_default()
}

/// Entries of a list as they stand: one column for each field.
fn entries(title: &str, tables: &[Section<'_>], scale: TemperatureUnit) -> Option<Table> {
    let keys = tables.first()?.keys();
    let row = |table: &Section<'_>| keys.iter().map(|key| value(table, key, scale).unwrap_or_default()).collect();
    let columns = keys.iter().map(|key| spaced(key)).collect();
    Some(Table { caption: format!("{title}, row by row"), rows: tables.iter().map(row).collect(), columns })
}

/// A row of a map or a curve.
struct Row {
    /// What it is of, with its unit: "flow, mg/s".
    of: String,
    /// Where it was taken: "850 rpm"; empty for a curve.
    at: String,
    numbers: Vec<String>,
}

/// A map or a curve: the first series of a section over its columns, every other one of the same length as a row. Also
/// gives the fields that it tells.
fn map(section: &Section<'_>, scale: TemperatureUnit) -> Option<(Table, Vec<String>)> {
    let keys = section.keys();
    let across = keys.iter().position(|key| several(section, key, scale).is_some())?;
    let over = several(section, &keys[across], scale)?;
    let row = |section: &Section<'_>, key: &String, at: &str| {
        let found = several(section, key, scale).filter(|series| series.numbers.len() == over.numbers.len())?;
        Some(Row { of: format!("{}, {}", spaced(key), found.symbol), at: at.to_owned(), numbers: found.numbers })
    };
    let mut rows: Vec<Row> = Vec::new();
    for table in inner(section) {
        let (long, short): (Vec<String>, Vec<String>) =
            table.keys().into_iter().partition(|key| several(&table, key, scale).is_some());
        let at: Vec<String> = short.iter().filter_map(|key| value(&table, key, scale)).collect();
        rows.extend(long.iter().filter_map(|key| row(&table, key, &at.join(", "))));
    }
    let mut told = vec![keys[across].clone()];
    for key in &keys[across + 1..] {
        if let Some(found) = row(section, key, "") {
            rows.push(found);
            told.push(key.clone());
        }
    }
    let with_unit = over.numbers.iter().map(|number| format!("{number} {}", over.symbol).trim_end().to_owned());
    let columns = std::iter::once(String::new()).chain(with_unit).collect();
    (!rows.is_empty()).then(|| (table(&spaced(&keys[across]), columns, rows), told))
}

/// Several numbers in one field.
fn several(section: &Section<'_>, key: &str, scale: TemperatureUnit) -> Option<Series> {
    series(&section.optional_text(key)?, scale).filter(|series| series.numbers.len() > 1)
}

/// What all rows of a map are of is said once, above them.
fn table(over: &str, columns: Vec<String>, rows: Vec<Row>) -> Table {
    let first = rows.first().map(|row| row.of.clone()).unwrap_or_default();
    let one_kind = rows.iter().all(|row| row.of == first && !row.at.is_empty());
    let caption = if one_kind { format!("{} over {over}", heading(&first)) } else { format!("Over {over}") };
    let cells = |Row { of, at, numbers }: Row| {
        let name = match (one_kind, at.is_empty()) {
            (true, _) => at,
            (false, true) => of,
            (false, false) => format!("{at}: {of}"),
        };
        std::iter::once(name).chain(numbers).collect()
    };
    Table { caption, columns, rows: rows.into_iter().map(cells).collect() }
}

fn value(section: &Section<'_>, key: &str, scale: TemperatureUnit) -> Option<String> {
    let text = || section.optional_text(key).map(|text| in_scale(&text, scale));
    let number = || section.optional_integer(key).map(|number| number.to_string());
    let truth = || section.optional_bool(key).map(|truth| if truth { "yes" } else { "no" }.to_owned());
    let list = || {
        let words: Vec<String> = section.optional_list(key)?.iter().map(|item| spaced(&item.text)).collect();
        Some(if words.is_empty() { "none".to_owned() } else { words.join(", ") })
    };
    text().or_else(number).or_else(truth).or_else(list)
}

/// Numbers with their unit, or words, with temperatures in the reader's scale.
fn in_scale(text: &str, scale: TemperatureUnit) -> String {
    match series(text, scale) {
        Some(series) => format!("{} {}", series.numbers.join(" "), series.symbol).trim_end().to_owned(),
        None => told::temperatures(text, scale).into_owned(),
    }
}

fn series(text: &str, scale: TemperatureUnit) -> Option<Series> {
    let numbers = text.split_whitespace().map_while(|word| word.parse::<f64>().ok());
    let numbers: Vec<f64> = numbers.collect();
    let symbol: Vec<&str> = text.split_whitespace().skip(numbers.len()).collect();
    let unit = Unit::from_text(&symbol.join(" ")).filter(|_| !numbers.is_empty())?;
    let shown: Vec<Quantity> = numbers.iter().map(|number| Quantity::new(*number, unit).for_reader(scale)).collect();
    // A temperature that was converted is told in whole degrees, like everywhere.
    let whole = |shown: &Quantity| if shown.unit == unit { shown.value } else { shown.value.round() };
    Some(Series {
        symbol: shown.first()?.unit.symbol(),
        numbers: shown.iter().map(|shown| plain_number(whole(shown))).collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const FILE: &str = "id = \"m\"\n[filter]\nvolume = \"7.5 L\"\nnever_heard_of = \"3 h\"\n[outlet]\nlamp_at = \"430 °C\"\n\
        load = \"0 50 %\"\nrows = [ { speed = \"850 rpm\", temperature = \"95 140 °C\" } ]\n[no2]\ntemperature = \"80 650 °C\"\n\
        no2 = \"10 2 ppm\"\n[parked]\ninterlocks = [\"park_brake\", \"neutral\"]\ncount = 3\n[lamps]\nfilter = \"lit\"\n\
        [[fault]]\ncode = \"3251\"\nlamp = true\n";

    fn fact(label: &str, value: &str) -> Fact {
        Fact { label: label.to_owned(), value: value.to_owned() }
    }

    #[track_caller]
    fn check(group: &Group, caption: &str, columns: &[&str], row: &[&str]) {
        let table = group.table.as_ref().unwrap();
        assert_eq!(table.caption, caption);
        assert_eq!(table.columns, columns);
        assert_eq!(table.rows, [row]);
    }

    #[test]
    fn every_field_of_a_file_is_shown_known_or_not() {
        let groups = groups(FILE, TemperatureUnit::Celsius);
        let titles: Vec<&str> = groups.iter().map(|group| group.title.as_str()).collect();
        assert_eq!(titles, ["Filter", "Outlet", "NO2", "Parked", "Fault"]);
        assert_eq!(groups[0].facts, [fact("volume", "7.5 L"), fact("never heard of", "3 h")]);
        assert_eq!(groups[1].facts, [fact("lamp at", "430 °C")]);
        check(&groups[1], "Temperature, °C over load", &["", "0 %", "50 %"], &["850 rpm", "95", "140"]);
        assert_eq!(groups[2].facts, []);
        check(&groups[2], "Over temperature", &["", "80 °C", "650 °C"], &["NO2, ppm", "10", "2"]);
        assert_eq!(groups[3].facts, [fact("interlocks", "park brake, neutral"), fact("count", "3")]);
        check(&groups[4], "Fault, row by row", &["code", "lamp"], &["3251", "yes"]);
    }

    #[test]
    fn temperatures_are_in_the_readers_scale_also_several_in_a_row() {
        let groups = groups(FILE, TemperatureUnit::Fahrenheit);
        // From memory, not confirmed: NIST SP 811, F = 1.8 C + 32: 430 is 806, 95 is 203, 140 is 284.
        assert_eq!(groups[1].facts, [fact("lamp at", "806 °F")]);
        check(&groups[1], "Temperature, °F over load", &["", "0 %", "50 %"], &["850 rpm", "203", "284"]);
    }
}
