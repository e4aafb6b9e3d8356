//! How another system grades a question: the key, all or nothing or by part, and which explanation an answer brings up.
//!
//! Grades as `domain::scenario::grade` does, so that an answer is worth the same here and there.

use crate::domain::scenario::Question;
use crate::domain::scenario::question::{Key, Kind};
use crate::exchange::xml::Element;

/// The candidate's answer.
pub(super) const RESPONSE: &str = "RESPONSE";
/// Which explanations are shown.
pub(super) const FEEDBACK: &str = "FEEDBACK";
/// Whether there is an answer.
pub(super) const ANSWERED: &str = "ANSWERED";

/// What grading adds to a tolerance, so that an answer right on the edge is not lost to rounding.
const GRACE: f64 = 1e-9;

/// What an option is called in its item.
pub(super) fn option_identifier(place: usize) -> String {
    format!("option-{}", place + 1)
}

/// What a wrong number that a misconception gives is called.
fn wrong_identifier(place: usize) -> String {
    format!("wrong-{}", place + 1)
}

/// The answer's type and the key.
pub(super) fn response(question: &Question) -> Element {
    let (cardinality, base_type, key) = match &question.key {
        Key::Options(places) => {
            let cardinality = if question.shown.kind == Kind::ChooseOne { "single" } else { "multiple" };
            (cardinality, "identifier", identifiers(places))
        }
        Key::Order(places) => ("ordered", "identifier", identifiers(places)),
        Key::Number { value, .. } => ("single", "float", vec![value.value.to_string()]),
    };
    let values = key.into_iter().map(|value| Element::new("qti-value").saying(value));
    Element::new("qti-response-declaration")
        .with("identifier", RESPONSE)
        .with("cardinality", cardinality)
        .with("base-type", base_type)
        .holding(Element::new("qti-correct-response").holding_all(values))
        .holding_all(mapping(question))
}

/// What each chosen option counts where a question is graded by part: a right one 1, a wrong one as much less, and all
/// together no less than nothing.
// From memory, not confirmed: 1EdTech QTI 3.0 information model, qti-mapping with its bounds and default.
fn mapping(question: &Question) -> Option<Element> {
    let rights = parts(question)?;
    let entry =
        |identifier: String| Element::new("qti-map-entry").with("map-key", identifier).with("mapped-value", "1");
    let mapping = Element::new("qti-mapping")
        .with("lower-bound", "0")
        .with("upper-bound", rights.len().to_string())
        .with("default-value", "-1");
    Some(mapping.holding_all(identifiers(rights).into_iter().map(entry)))
}

/// The right options of a question that is graded by part.
fn parts(question: &Question) -> Option<&[usize]> {
    match &question.key {
        Key::Options(places) if question.shown.by_part => Some(places),
        _ => None,
    }
}

fn identifiers(places: &[usize]) -> Vec<String> {
    places.iter().map(|place| option_identifier(*place)).collect()
}

/// What grading works out.
pub(super) fn outcomes(question: &Question) -> [Element; 4] {
    let identifier = |name: &str, cardinality: &str| {
        Element::new("qti-outcome-declaration")
            .with("identifier", name)
            .with("cardinality", cardinality)
            .with("base-type", "identifier")
    };
    let explained = match question.shown.kind {
        Kind::ChooseOne | Kind::Number => "single",
        Kind::ChooseSeveral | Kind::LampPanel | Kind::PutInOrder => "multiple",
    };
    [
        number_outcome("SCORE", "0"),
        number_outcome("MAXSCORE", "1"),
        identifier(FEEDBACK, explained),
        identifier(ANSWERED, "single"),
    ]
}

/// A number that grading works out, with what it is before.
pub(super) fn number_outcome(name: &str, before: &str) -> Element {
    Element::new("qti-outcome-declaration")
        .with("identifier", name)
        .with("cardinality", "single")
        .with("base-type", "float")
        .holding(Element::new("qti-default-value").holding(Element::new("qti-value").saying(before)))
}

/// Grading: the whole key or nothing, or the share of its parts; then the explanations. Without an answer nothing is set.
pub(super) fn processing(question: &Question) -> Element {
    let answered = Element::new("qti-not").holding(Element::new("qti-is-null").holding(variable(RESPONSE)));
    let mut graded = Element::new("qti-response-if").holding(answered).holding(set(ANSWERED, word("answered")));
    graded = match &question.key {
        Key::Options(_) => {
            let score = parts(question).map_or_else(all_or_nothing, share_of_parts);
            graded.holding(score).holding(set(FEEDBACK, variable(RESPONSE)))
        }
        Key::Order(places) => {
            let every = (0..places.len()).map(|place| word(&option_identifier(place)));
            graded.holding(all_or_nothing()).holding(set(FEEDBACK, Element::new("qti-multiple").holding_all(every)))
        }
        Key::Number { tolerance, .. } => graded.holding(near(question, tolerance.value)),
    };
    Element::new("qti-response-processing").holding(Element::new("qti-response-condition").holding(graded))
}

fn all_or_nothing() -> Element {
    let whole = Element::new("qti-match").holding(variable(RESPONSE)).holding(correct());
    condition(vec![Element::new("qti-response-if").holding(whole).holding(point())])
}

/// What the options count together, of what the right ones would.
fn share_of_parts(rights: &[usize]) -> Element {
    let counted = Element::new("qti-map-response").with("identifier", RESPONSE);
    let all = base_value("float", &rights.len().to_string());
    set("SCORE", Element::new("qti-divide").holding(counted).holding(all))
}

/// The first of these that is near enough: the key, then what each misconception gives.
fn near(question: &Question, tolerance: f64) -> Element {
    let within = |value: Element| {
        // Source: 1EdTech QTI 3.0, public examples (qti-equal with tolerance-mode and tolerance).
        Element::new("qti-equal")
            .with("tolerance-mode", "absolute")
            .with("tolerance", (tolerance + GRACE).to_string())
            .holding(value)
            .holding(variable(RESPONSE))
    };
    let mut branches = vec![
        Element::new("qti-response-if")
            .holding(within(correct()))
            .holding(point())
            .holding(set(FEEDBACK, word("right"))),
    ];
    for (place, wrong) in question.wrong_numbers.iter().enumerate() {
        let value = base_value("float", &wrong.value.to_string());
        branches.push(
            Element::new("qti-response-else-if")
                .holding(within(value))
                .holding(set(FEEDBACK, word(&wrong_identifier(place)))),
        );
    }
    branches.push(Element::new("qti-response-else").holding(set(FEEDBACK, word("wrong"))));
    condition(branches)
}

/// Each explanation with the identifier that brings it up.
pub(super) fn feedback(question: &Question) -> Vec<(String, String)> {
    let Key::Number { value, tolerance } = &question.key else {
        let why = |(place, choice): (usize, &crate::domain::scenario::question::Choice)| {
            (option_identifier(place), choice.why.clone())
        };
        return question.choices.iter().enumerate().map(why).collect();
    };
    let mut told = vec![("right".to_owned(), format!("Right: the model says {value}, give or take {tolerance}."))];
    let wrong = question.wrong_numbers.iter().enumerate();
    told.extend(wrong.map(|(place, wrong)| (wrong_identifier(place), wrong.why.clone())));
    told.push(("wrong".to_owned(), format!("Not near enough: the model says {value}, give or take {tolerance}.")));
    told
}

fn condition(branches: Vec<Element>) -> Element {
    Element::new("qti-response-condition").holding_all(branches)
}

fn point() -> Element {
    set("SCORE", base_value("float", "1"))
}

fn set(outcome: &str, value: Element) -> Element {
    Element::new("qti-set-outcome-value").with("identifier", outcome).holding(value)
}

fn variable(name: &str) -> Element {
    Element::new("qti-variable").with("identifier", name)
}

fn correct() -> Element {
    Element::new("qti-correct").with("identifier", RESPONSE)
}

fn word(word: &str) -> Element {
    base_value("identifier", word)
}

fn base_value(base_type: &str, value: &str) -> Element {
    Element::new("qti-base-value").with("base-type", base_type).saying(value)
}
