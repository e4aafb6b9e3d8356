//! One question as an item: what the candidate sees, and what is told after the answer.
//!
//! Reasons and cautions stand in a block that is shown only after an answer: before it they would give the key away.

use super::scoring::{self, ANSWERED, FEEDBACK, RESPONSE};
use crate::domain::scenario::Question;
use crate::domain::scenario::question::{CautionWords, Gauge, Key, Kind, Shown};
use crate::domain::units::{Quantity, Unit};
use crate::exchange::ITEMS;
use crate::exchange::xml::Element;

/// Longest title in letters; chosen by us: what a list of items shows on one line.
const LONGEST_TITLE: usize = 90;

/// What is said wherever the model's answer stands.
const DEFER: &str =
    "The numbers are for training. At the machine, the operator's manual, local codes and licensed practice decide.";

/// The question as an item. Its children stand in the order that QTI wants.
pub(super) fn item(identifier: &str, question: &Question) -> Element {
    // Source: 1EdTech QTI 3.0, public examples (order of an item's children).
    Element::new("qti-assessment-item")
        .with("xmlns", ITEMS)
        .with("identifier", identifier)
        .with("title", title(&question.shown))
        .with("adaptive", "false")
        .with("time-dependent", "false")
        .with("xml:lang", "en")
        .with("tool-name", "Sootmark")
        .with("tool-version", env!("CARGO_PKG_VERSION"))
        .holding(scoring::response(question))
        .holding_all(scoring::outcomes(question))
        .holding(body(question))
        .holding(scoring::processing(question))
        .holding_all(scoring::feedback(question).into_iter().map(modal))
}

/// What lists of items show. Never the scenario's own title: that can hint at the answer.
fn title(shown: &Shown) -> String {
    let part = shown.case.as_ref().map(|case| format!(", part {} of {}", case.part, case.of)).unwrap_or_default();
    let whole = format!("{}{part}: {}", shown.machine_name, shown.prompt);
    if whole.chars().count() <= LONGEST_TITLE {
        return whole;
    }
    whole.chars().take(LONGEST_TITLE - 3).chain("...".chars()).collect()
}

/// What is told about an answer.
fn modal((identifier, text): (String, String)) -> Element {
    Element::new("qti-modal-feedback")
        .with("outcome-identifier", FEEDBACK)
        .with("identifier", identifier)
        .with("show-hide", "show")
        .holding(Element::new("qti-content-body").holding(said("p", &text)))
}

fn said(name: &str, text: &str) -> Element {
    Element::new(name).saying(text)
}

fn body(question: &Question) -> Element {
    let shown = &question.shown;
    let readings = readings(shown).into_iter().map(|reading| said("li", &reading));
    let so_far = shown.case.iter().flat_map(|case| &case.so_far);
    let story = so_far.chain(&shown.story).map(|paragraph| said("p", paragraph));
    let asked = match shown.kind {
        Kind::ChooseOne => vec![options(shown, "qti-choice-interaction", Some("1"))],
        Kind::ChooseSeveral | Kind::LampPanel => vec![options(shown, "qti-choice-interaction", Some("0"))],
        Kind::PutInOrder => vec![options(shown, "qti-order-interaction", None)],
        Kind::Number => {
            let gap = Element::new("qti-text-entry-interaction")
                .with("response-identifier", RESPONSE)
                .with("expected-length", "10");
            let unit = shown.unit.iter().map(|unit| said("span", unit));
            vec![said("p", &shown.prompt), Element::new("div").holding(gap).holding_all(unit)]
        }
    };
    Element::new("qti-item-body")
        .holding(Element::new("ul").holding_all(readings))
        .holding_all(story)
        .holding_all(asked)
        .holding(told_after(question))
}

/// The machine and what its panel shows, in words.
fn readings(shown: &Shown) -> Vec<String> {
    let mut readings = vec![format!("Machine: {}, {}", shown.machine_name, shown.machine_kind)];
    readings.extend(shown.facts.iter().map(|(label, value)| format!("{label}: {value}")));
    if let Some(lamps) = shown.lamps {
        let lit: Vec<&str> = lamps.iter().map(|lamp| lamp.name()).collect();
        readings.push(format!("Lamps lit: {}", if lit.is_empty() { "none".to_owned() } else { lit.join(", ") }));
    }
    readings.extend(shown.gauge.as_ref().map(gauge));
    let course = shown.course.as_ref().map(|course| format!("Course before this moment: {}", course.words()));
    readings.extend(course);
    readings
}

fn gauge(gauge: &Gauge) -> String {
    let percent = |value| Quantity::new(value, Unit::Percent);
    let bands: Vec<String> = gauge.bands.iter().map(|(name, from)| format!("{name} from {}", percent(*from))).collect();
    format!("Soot gauge: {}. Its bands: {}", percent(gauge.soot_percent), bands.join(", "))
}

/// The options in the order in which the program shows them: it was drawn, so no system draws it again.
fn options(shown: &Shown, name: &str, most: Option<&str>) -> Element {
    let mut interaction = Element::new(name).with("response-identifier", RESPONSE).with("shuffle", "false");
    if let Some(most) = most {
        interaction = interaction.with("min-choices", "1").with("max-choices", most);
    }
    let choice = |(place, text): (usize, &String)| {
        said("qti-simple-choice", text).with("identifier", scoring::option_identifier(place))
    };
    interaction.holding(said("qti-prompt", &shown.prompt)).holding_all(shown.options.iter().enumerate().map(choice))
}

/// What is told once an answer is in: the right one, the model's reasons, the cautions.
fn told_after(question: &Question) -> Element {
    let mut lines = vec![format!("Right: {}", right(question))];
    lines.extend(question.reasons.iter().cloned());
    lines.extend(question.cautions.iter().map(caution));
    lines.push(DEFER.to_owned());
    Element::new("qti-feedback-block")
        .with("outcome-identifier", ANSWERED)
        .with("identifier", "answered")
        .with("show-hide", "show")
        .holding(Element::new("qti-content-body").holding_all(lines.iter().map(|line| said("p", line))))
}

fn caution(caution: &CautionWords) -> String {
    let CautionWords { signal, what, consequence, avoid } = caution;
    format!("{}: {what} {consequence} {avoid}", signal.word())
}

fn right(question: &Question) -> String {
    let named = |places: &[usize], between: &str| {
        let texts = places.iter().filter_map(|place| question.shown.options.get(*place));
        texts.map(|text| format!("\"{text}\"")).collect::<Vec<_>>().join(between)
    };
    match &question.key {
        Key::Options(places) => named(places, " "),
        Key::Order(places) => named(places, ", then "),
        Key::Number { value, tolerance } => format!("{value}, give or take {tolerance}"),
    }
}
