//! Reads a situation from JSON: every field that is wrong is reported with its line, never only the first.
//!
//! Fills in what is left out, and says what it filled in, because a place that nobody described is taken for a safe one.

use crate::domain::aftertreatment::situation::{Enclosure, Ground, Regeneration, Situation};
use crate::domain::document::{Problem, nearest};
use serde_json::{Map, Value};

/// A situation with the fields that nobody gave, as they were taken.
#[derive(Debug)]
pub(in crate::cli) struct Read {
    pub(in crate::cli) situation: Situation,
    pub(in crate::cli) taken_as_usual: Vec<(String, Value)>,
}

/// Reads a situation. `file` is what messages call the text.
pub(in crate::cli) fn read(file: &str, text: &str) -> Result<Read, Vec<Problem>> {
    // Some editors put a mark before UTF-8 that JSON does not know.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let one = |line, field: &str, message: String| vec![Problem::new(file, line, field, message)];
    let value: Value = serde_json::from_str(text).map_err(|error| {
        let line = u32::try_from(error.line()).unwrap_or(u32::MAX);
        one(line, "situation", format!("this is not JSON: {error}"))
    })?;
    let Value::Object(given) = value else {
        let message = "this is no situation; write an object, such as {\"soot_percent\": 95}".to_owned();
        return Err(one(1, "situation", message));
    };
    let usual = usual();
    let mut problems = Vec::new();
    let mut good = Map::new();
    let mut lines: Vec<(String, u32)> = Vec::new();
    for (field, line) in fields(text) {
        let found = if lines.iter().any(|(known, _)| *known == field) {
            Err("this stands twice; leave one".to_owned())
        } else {
            checked(&field, &given[&field], &usual)
        };
        match found {
            Ok(value) => drop(good.insert(field.clone(), value)),
            Err(message) => problems.push(Problem::new(file, line, &field, message)),
        }
        lines.push((field, line));
    }
    let situation = situation_of(&good).unwrap_or_default();
    for told in situation.problems() {
        let (field, message) = told.split_once(' ').unwrap_or((&told, ""));
        let line = lines.iter().find(|(known, _)| known == field).map_or(1, |(_, line)| *line);
        problems.push(Problem::new(file, line, field, message));
    }
    if problems.is_empty() {
        let taken_as_usual = usual.into_iter().filter(|(field, _)| !given.contains_key(field)).collect();
        Ok(Read { situation, taken_as_usual })
    } else {
        problems.sort();
        Err(problems)
    }
}

/// Every field of a situation with the value it has when nobody gives one, in their order.
fn usual() -> Vec<(String, Value)> {
    let ordered = serde_json::to_string(&Situation::default()).unwrap_or_default();
    let values: Map<String, Value> = serde_json::from_str(&ordered).unwrap_or_default();
    fields(&ordered).into_iter().map(|(field, _)| (field.clone(), values[&field].clone())).collect()
}

fn situation_of(fields: &Map<String, Value>) -> Result<Situation, serde_json::Error> {
    serde_json::from_value(Value::Object(fields.clone()))
}

/// The value, if this field can have it; else what is wrong and what to write.
fn checked(field: &str, value: &Value, usual: &[(String, Value)]) -> Result<Value, String> {
    let Some((_, like)) = usual.iter().find(|(known, _)| known == field) else {
        let known = usual.iter().map(|(known, _)| known.as_str());
        return Err(match nearest(field, known.clone()) {
            Some(meant) => format!("nobody knows this field; did you mean \"{meant}\"?"),
            None => format!("nobody knows this field; known are {}", known.collect::<Vec<_>>().join(", ")),
        });
    };
    let alone = Map::from_iter([(field.to_owned(), value.clone())]);
    if situation_of(&alone).is_ok() {
        return Ok(value.clone());
    }
    let wanted = match like {
        Value::Bool(_) => "true or false, without quotes".to_owned(),
        Value::Number(number) if number.is_u64() => "a whole number from 0, without quotes".to_owned(),
        Value::Number(_) => "a number without quotes and without a unit".to_owned(),
        _ => format!("one of {}", words(field)),
    };
    Err(format!("{value} cannot stand here; write {wanted}"))
}

fn words(field: &str) -> String {
    let words: Vec<&str> = match field {
        "ground" => Ground::ALL.into_iter().map(Ground::id).collect(),
        "enclosure" => Enclosure::ALL.into_iter().map(Enclosure::id).collect(),
        _ => Regeneration::ALL.into_iter().map(Regeneration::id).collect(),
    };
    words.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>().join(", ")
}

/// The fields of an object that is known to be JSON, in the order of the text, each with its line.
fn fields(text: &str) -> Vec<(String, u32)> {
    let (mut found, mut depth, mut line, mut at) = (Vec::new(), 0_u32, 1_u32, 0);
    let bytes = text.as_bytes();
    while at < bytes.len() {
        match bytes[at] {
            b'\n' => line += 1,
            b'{' | b'[' => depth += 1,
            b'}' | b']' => depth -= 1,
            b'"' => {
                let end = string_end(bytes, at);
                let named = text[end..].trim_start().starts_with(':');
                if depth == 1 && named {
                    found.extend(serde_json::from_str(&text[at..end]).ok().map(|field: String| (field, line)));
                }
                at = end;
                continue;
            }
            _ => {}
        }
        at += 1;
    }
    found
}

/// Where the string that begins at `at` has ended.
fn string_end(bytes: &[u8], at: usize) -> usize {
    let mut end = at + 1;
    while end < bytes.len() && bytes[end] != b'"' {
        end += if bytes[end] == b'\\' { 2 } else { 1 };
    }
    (end + 1).min(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: &[&str]) {
        let told = match read("s.json", text) {
            Ok(_) => Vec::new(),
            Err(problems) => problems.iter().map(ToString::to_string).collect::<Vec<_>>(),
        };
        assert_eq!(told, expected);
    }

    #[test]
    fn what_is_left_out_is_taken_as_usual_and_said() {
        let read = read("s.json", "\u{feff}{\"soot_percent\": 95, \"ground\": \"straw\"}").unwrap();
        assert_eq!(read.situation, Situation { soot_percent: 95.0, ground: Ground::Straw, ..Situation::default() });
        assert_eq!(read.taken_as_usual.len(), 18);
        assert_eq!(read.taken_as_usual[0], ("ash_percent".to_owned(), Value::from(0.0)));
    }

    #[test]
    fn every_wrong_field_is_reported_with_its_line() {
        check(
            "{\n  \"soot_percent\": -5,\n  \"soot_percnt\": 5, \"inhibits\": 1.5,\n  \"ground\": \"lava\",\n\n  \"standing\": \"yes\"\n}",
            &[
                "s.json:2: soot_percent: is -5; it must lie between 0 and 250",
                "s.json:3: inhibits: 1.5 cannot stand here; write a whole number from 0, without quotes",
                "s.json:3: soot_percnt: nobody knows this field; did you mean \"soot_percent\"?",
                "s.json:4: ground: \"lava\" cannot stand here; write one of \"bare_soil\", \"concrete\", \"gravel\", \
                 \"stubble\", \"dry_grass\", \"straw\"",
                "s.json:6: standing: \"yes\" cannot stand here; write true or false, without quotes",
            ],
        );
        check("{\"outlet_c\": 1,\n\"outlet_c\": 2}", &["s.json:2: outlet_c: this stands twice; leave one"]);
        check(
            "{\"enclosure\": null}",
            &["s.json:1: enclosure: null cannot stand here; write one of \"open\", \"open_sided\", \"closed\""],
        );
    }

    #[test]
    fn what_is_no_situation_at_all_is_refused() {
        let object = "this is no situation; write an object, such as {\"soot_percent\": 95}";
        check("[95]", &[&format!("s.json:1: situation: {object}")]);
        check("\"soot\"", &[&format!("s.json:1: situation: {object}")]);
        assert!(read("s.json", "").is_err());
        assert!(read("s.json", "{\"soot_percent\": 1e999}").is_err());
        assert!(read("s.json", "{\"soot_percent\": 95} twice").is_err());
        assert!(read("s.json", &"[".repeat(100_000)).is_err(), "deep nesting is refused, not followed");
    }

    #[test]
    fn fields_are_found_between_strings_that_look_like_them() {
        let text = r#"{"a\"b": "c: \\", "d" : {"e": 1, "f": ["g"]}, "h": "i" }"#;
        let names: Vec<String> = fields(text).into_iter().map(|(name, _)| name).collect();
        assert_eq!(names, ["a\"b", "d", "h"]);
    }

    proptest::proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in "[{}:,\"\\\\a-d0-9é \\n\\[\\]]{0,40}") {
            let object = format!("{{\"soot_percent\": 1, {text}}}");
            for text in [&text, &object] {
                if let Err(problems) = read("s.json", text) {
                    proptest::prop_assert!(!problems.is_empty());
                }
            }
        }
    }
}
