//! Reads one item into what a draft needs: kind, story, question, options and what the package says of them.
//!
//! Takes what a scenario can be, and nothing half: an item that asks twice, draws values or runs scripts is left whole.

use super::flow::{self, GAP};
use super::marks::{self, Mark};
use crate::domain::scenario::Kind;
use crate::exchange::xml::Element;

/// What is said about an item: line, field, message.
#[derive(Debug, Default)]
pub(super) struct Findings(pub(super) Vec<(u32, &'static str, String)>);

impl Findings {
    pub(super) fn note(&mut self, line: u32, field: &'static str, message: impl Into<String>) {
        self.0.push((line, field, message.into()));
    }
}

/// An item as far as it was taken. All texts stand on one line.
#[derive(Debug)]
pub(super) struct Taken {
    pub(super) identifier: String,
    pub(super) title: String,
    pub(super) kind: Kind,
    pub(super) story: Vec<String>,
    /// Empty when the package has none.
    pub(super) question: String,
    pub(super) options: Vec<TakenOption>,
    pub(super) number: Option<TakenNumber>,
    /// What else the package says: after the answer, or below the question.
    pub(super) remarks: Vec<String>,
}

/// An option.
#[derive(Debug)]
pub(super) struct TakenOption {
    pub(super) identifier: String,
    pub(super) text: String,
    /// Empty when the package does not explain it.
    pub(super) because: String,
    pub(super) mark: Mark,
}

/// What the package says of a number.
#[derive(Debug, Default)]
pub(super) struct TakenNumber {
    pub(super) value: Option<f64>,
    pub(super) tolerance: Option<f64>,
    /// What stands behind the gap.
    pub(super) unit: String,
}

/// Children of an item that hold values which are drawn or worked out.
const DRAWN: [&str; 3] = ["qti-template-declaration", "qti-template-processing", "qti-context-declaration"];

/// Reads an item; nothing when it is none of the plain kinds, which is then among the findings.
pub(super) fn take(root: &Element, findings: &mut Findings) -> Option<Taken> {
    let interaction = plain_interaction(root, findings)?;
    let body = root.child("qti-item-body")?;
    let response = interaction.attribute("response-identifier").unwrap_or_default();
    let declared = root
        .children()
        .find(|child| child.name == "qti-response-declaration" && child.attribute("identifier") == Some(response));
    let Some(declared) = declared else {
        findings.note(
            interaction.line,
            "response-identifier",
            "no declaration says what kind of answer this is; the question is not taken",
        );
        return None;
    };
    let kind = kind(interaction, declared, findings)?;
    let text = |name: &str| flow::on_one_line(root.attribute(name).unwrap_or_default());
    let mut taken = Taken {
        identifier: text("identifier"),
        title: text("title"),
        kind,
        story: Vec::new(),
        question: String::new(),
        options: Vec::new(),
        number: None,
        remarks: Vec::new(),
    };
    let after = told(body, interaction, &mut taken, findings);
    if kind == Kind::Number {
        taken.number = Some(marks::number(root, declared, after, findings));
    } else {
        taken.options = options(interaction, declared, kind, findings)?;
    }
    told_after(root, &mut taken, findings);
    unread(root, findings);
    Some(taken)
}

/// The one interaction of an item, when it is of a plain kind and nothing stands in the way.
fn plain_interaction<'e>(root: &'e Element, findings: &mut Findings) -> Option<&'e Element> {
    let before = findings.0.len();
    if root.attribute("adaptive") == Some("true") {
        findings.note(root.line, "adaptive", "a question that goes on after an answer is not taken");
    }
    for child in root.children().filter(|child| DRAWN.contains(&child.name.as_str())) {
        findings.note(
            child.line,
            "template",
            format!("<{}>: a question with drawn values is not taken; draw them in a scenario's [draw]", child.name),
        );
    }
    let mut found = Vec::new();
    root.walk(&mut |element| {
        if element.name.ends_with("-interaction") {
            found.push(element);
        } else if matches!(element.name.as_str(), "qti-custom-operator" | "qti-interaction-modules") {
            findings.note(
                element.line,
                "script",
                format!("<{}>: a question that runs a script is not taken", element.name),
            );
        }
    });
    let plain = |element: &&&Element| {
        matches!(
            element.name.as_str(),
            "qti-choice-interaction" | "qti-order-interaction" | "qti-text-entry-interaction"
        )
    };
    for other in found.iter().filter(|element| !plain(element)) {
        let name = super::shortened(&other.name);
        findings.note(
            other.line,
            "interaction",
            format!("<{name}> is not taken; taken are choices, orders and numbers"),
        );
    }
    match found.as_slice() {
        [] => findings.note(root.line, "interaction", "nothing is asked here; the question is not taken"),
        [_] => {}
        [_, second, ..] => {
            findings.note(
                second.line,
                "interaction",
                "more than one thing is asked; the question is not taken: divide it",
            );
        }
    }
    if root.child("qti-item-body").is_none() {
        findings.note(root.line, "qti-item-body", "this question has no body; it is not taken");
    }
    (findings.0.len() == before).then(|| found.first().copied()).flatten()
}

fn kind(interaction: &Element, declared: &Element, findings: &mut Findings) -> Option<Kind> {
    let of = |name: &str| declared.attribute(name).unwrap_or_default();
    let kind = match (interaction.name.as_str(), of("cardinality"), of("base-type")) {
        ("qti-choice-interaction", "single", "identifier") => Kind::ChooseOne,
        ("qti-choice-interaction", "multiple", "identifier") => Kind::ChooseSeveral,
        ("qti-order-interaction", "ordered", "identifier") => Kind::PutInOrder,
        ("qti-text-entry-interaction", "single", "float" | "integer") => Kind::Number,
        ("qti-text-entry-interaction", ..) => {
            findings.note(
                declared.line,
                "base-type",
                "an answer in words is not taken; only a number can be graded here",
            );
            return None;
        }
        (_, cardinality, base_type) => {
            let message = format!(
                "an answer of cardinality \"{}\" and base type \"{}\" does not go with <{}>; the question is not taken",
                super::shortened(cardinality),
                super::shortened(base_type),
                interaction.name
            );
            findings.note(declared.line, "cardinality", message);
            return None;
        }
    };
    Some(kind)
}

/// Divides the body's words into story, question and what comes after; hands over what stands behind the gap.
fn told(body: &Element, interaction: &Element, taken: &mut Taken, findings: &mut Findings) -> String {
    let mut before = flow::paragraphs(body, findings);
    let at = before.iter().position(|paragraph| paragraph.contains(GAP)).unwrap_or(before.len());
    let after = before.split_off((at + 1).min(before.len()));
    let asking = before.pop().unwrap_or_default();
    let (ahead, behind) = asking.split_once(GAP).unwrap_or((&asking, ""));
    let (ahead, behind) = (ahead.trim(), behind.trim().to_owned());
    let prompt = interaction.child("qti-prompt").map(|prompt| flow::words(prompt, findings)).unwrap_or_default();
    taken.question = if !ahead.is_empty() {
        format!("{ahead} ... {behind}").trim().to_owned()
    } else if prompt.is_empty() {
        before.pop().unwrap_or_default()
    } else {
        prompt
    };
    if taken.question.is_empty() {
        findings.note(interaction.line, "qti-prompt", "this question has no text; write it in the draft");
    }
    taken.story = before;
    taken.remarks.extend(after);
    behind
}

/// Most options that are looked at; chosen by us: a scenario has six at most, and a trainer may drop some.
const MOST_OPTIONS: usize = 50;

fn options(interaction: &Element, declared: &Element, kind: Kind, findings: &mut Findings) -> Option<Vec<TakenOption>> {
    let count = interaction.children().filter(|child| child.name == "qti-simple-choice").count();
    if count > MOST_OPTIONS {
        let message = format!("there are {count} options; {MOST_OPTIONS} are the most that is taken");
        findings.note(interaction.line, "qti-simple-choice", message);
        return None;
    }
    let marking = marks::Marking::of(declared, kind, findings);
    let mut options = Vec::new();
    for choice in interaction.children().filter(|child| child.name == "qti-simple-choice") {
        let identifier = choice.attribute("identifier").unwrap_or_default().to_owned();
        let text = flow::words(choice, findings);
        if text.is_empty() {
            findings.note(
                choice.line,
                "qti-simple-choice",
                "an option has no text of its own; the question is not taken",
            );
            return None;
        }
        let asides = choice.all("qti-feedback-inline").into_iter().chain(choice.all("qti-feedback-block"));
        let because: Vec<String> = asides.map(|aside| flow::words(aside, findings)).collect();
        options.push(TakenOption { mark: marking.mark(&identifier), identifier, text, because: because.join(" ") });
    }
    if options.is_empty() {
        findings.note(interaction.line, "qti-simple-choice", "there is no option to choose; the question is not taken");
        return None;
    }
    Some(options)
}

/// What is told after an answer: it explains the option it is named after, or stays a remark.
fn told_after(root: &Element, taken: &mut Taken, findings: &mut Findings) {
    for modal in root.all("qti-modal-feedback") {
        let (identifier, words) = (modal.attribute("identifier").unwrap_or_default(), flow::words(modal, findings));
        let option =
            taken.options.iter_mut().find(|option| option.identifier == identifier && option.because.is_empty());
        match option {
            Some(option) => option.because = words,
            None if words.is_empty() => {}
            None => taken.remarks.push(words),
        }
    }
    for block in root.child("qti-item-body").map(|body| blocks(body)).unwrap_or_default() {
        taken.remarks.extend(flow::paragraphs(block, findings));
    }
}

/// The feedback of a body that belongs to no option.
fn blocks(element: &Element) -> Vec<&Element> {
    let mut found = Vec::new();
    for child in element.children().filter(|child| child.name != "qti-simple-choice") {
        if matches!(child.name.as_str(), "qti-feedback-block" | "qti-feedback-inline") {
            found.push(child);
        } else {
            found.extend(blocks(child));
        }
    }
    found
}

/// What stands beside the question and is left out.
fn unread(root: &Element, findings: &mut Findings) {
    for child in root.children() {
        match child.name.as_str() {
            "qti-stylesheet" => findings.note(child.line, "media", "a style is not taken"),
            "qti-assessment-stimulus-ref" => {
                findings.note(
                    child.line,
                    "stimulus",
                    "a text that several questions share is not taken; write it in the story",
                );
            }
            "qti-companion-materials-info" | "qti-catalog-info" => {
                findings.note(child.line, "companion", format!("<{}> is not taken", child.name));
            }
            _ => {}
        }
    }
}
