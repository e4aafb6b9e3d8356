//! What is handed over and taken in again has the same words, and marks what the model called right.

use super::{QUESTIONS, exported, files};
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::question::{Key, Kind};
use sootmark::exchange::{Imported, import};
use std::sync::LazyLock;

static TAKEN: LazyLock<Imported> = LazyLock::new(|| import(&exported()));

/// The draft of a question.
fn draft(question: &Question) -> &'static str {
    let source = &question.source;
    let from = format!("items/{}.{}.{}.xml", source.template.replace('/', "."), source.machine, source.stream);
    &TAKEN.drafts.iter().find(|draft| draft.from == from).expect("a draft of each question").text
}

/// The lines below a heading, up to the next heading.
fn section<'d>(draft: &'d str, heading: &str) -> Vec<&'d str> {
    sections(draft, heading).into_iter().next().unwrap_or_default()
}

fn sections<'d>(draft: &'d str, heading: &str) -> Vec<Vec<&'d str>> {
    let heading = format!("[{heading}]");
    let mut found: Vec<Vec<&str>> = Vec::new();
    let mut inside = false;
    for line in draft.lines().take_while(|line| *line != "# the package also says:") {
        if line.starts_with('[') {
            inside = line == heading;
            if inside {
                found.push(Vec::new());
            }
        } else if let (true, Some(last), false) = (inside, found.last_mut(), line.is_empty()) {
            last.push(line);
        }
    }
    found
}

/// As the bank writes a text that holds braces; no text of the bank begins with a mark.
fn written(text: &str) -> String {
    text.replace('{', "{{").replace('}', "}}")
}

#[test]
fn every_question_comes_back_and_only_the_forms_do_not() {
    assert_eq!(TAKEN.drafts.len(), QUESTIONS.len());
    let told: Vec<(&str, &str)> =
        TAKEN.problems.iter().map(|problem| (problem.file.as_str(), problem.field.as_str())).collect();
    assert_eq!(told, [("tests/form-1.xml", "test"), ("tests/form-2.xml", "test")]);
    let items: Vec<String> = files(&exported()).into_keys().filter(|name| name.starts_with("items/")).collect();
    assert_eq!(items.len(), TAKEN.drafts.len());
    for draft in &TAKEN.drafts {
        assert!(draft.name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || "-_".contains(c)));
        assert_eq!(TAKEN.drafts.iter().filter(|other| other.name == draft.name).count(), 1, "{}", draft.name);
    }
}

#[test]
fn story_and_question_come_back() {
    for question in QUESTIONS.iter() {
        let draft = draft(question);
        // A lamp panel is our own; elsewhere it is a choice of several.
        let kind = if question.shown.kind == Kind::LampPanel { Kind::ChooseSeveral } else { question.shown.kind };
        assert!(draft.contains(&format!("\nkind: {}\n", kind.words())));
        assert_eq!(section(draft, "question"), [written(&question.shown.prompt)], "{}", question.source.template);
        let story = section(draft, "story");
        let so_far = question.shown.case.iter().flat_map(|case| &case.so_far);
        let own: Vec<String> = so_far.chain(&question.shown.story).map(|paragraph| written(paragraph)).collect();
        assert!(story.len() > own.len(), "the readings stand before the story");
        assert_eq!(story[story.len() - own.len()..], own, "{}", question.source.template);
        for (label, value) in &question.shown.facts {
            assert!(
                story.contains(&written(&format!("{label}: {value}")).as_str()),
                "{}: {label}",
                question.source.template
            );
        }
    }
}

#[test]
fn options_explanations_and_marks_come_back() {
    for question in QUESTIONS.iter().filter(|question| question.shown.kind != Kind::Number) {
        let options = sections(draft(question), "option");
        assert_eq!(options.len(), question.choices.len(), "{}", question.source.template);
        for (place, (lines, choice)) in options.iter().zip(&question.choices).enumerate() {
            let (says, open) = match &question.key {
                Key::Options(right) if right.contains(&place) => {
                    ("the package says this is right".to_owned(), "right if:")
                }
                Key::Options(_) => ("the package says this is wrong".to_owned(), "right if:"),
                Key::Order(order) => {
                    let at = order.iter().position(|shown| *shown == place).expect("a place") + 1;
                    (format!("the package puts this in place {at}"), "rank =")
                }
                Key::Number { .. } => unreachable!("left out above"),
            };
            let wanted = [
                format!("text: {}", written(&choice.text)),
                format!("# {says}; say here how the model knows it"),
                open.to_owned(),
                format!("because: {}", written(&choice.why)),
            ];
            assert_eq!(*lines, wanted, "{}", question.source.template);
        }
    }
}

#[test]
fn a_number_comes_back_as_a_remark_and_its_key_stays_open() {
    for question in QUESTIONS.iter() {
        let Key::Number { value, tolerance } = &question.key else { continue };
        let (draft, name) = (draft(question), &question.source.template);
        let lines = section(draft, "answer");
        assert!(lines.contains(&"ask: number") && lines.contains(&"key ="), "{name}: {lines:?}");
        let number = |line: &str, before: &str, behind: &str| -> f64 {
            let rest = line.strip_prefix(before).and_then(|rest| rest.strip_suffix(behind));
            rest.unwrap_or_else(|| panic!("{name}: {line}")).trim().parse().expect("a number")
        };
        let told = number(lines[1], "# the package says ", " is right; say here how the model knows it");
        assert!((told - value.value).abs() < 1e-6, "{name}: {told}");
        let unit = question.shown.unit.as_deref().unwrap_or_default();
        if unit.is_empty() {
            assert!(!draft.contains("\nunit:"), "{name}: whether there is a unit is for the trainer");
        } else {
            assert!(lines.contains(&format!("unit: {unit}").as_str()), "{name}: {lines:?}");
            let allowed = number(lines.last().expect("a line"), "tolerance = ", unit);
            assert!((allowed - tolerance.value).abs() < 1e-6, "{name}: {allowed}");
        }
        for wrong in &question.wrong_numbers {
            assert!(draft.contains(&format!("\n# {}\n", wrong.why)), "{name}: {}", wrong.why);
        }
    }
}
