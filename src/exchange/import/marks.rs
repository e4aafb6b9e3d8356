//! What a package says is right, as remarks for a trainer. Never becomes a key.

use super::flow;
use super::item::{Findings, TakenNumber};
use crate::domain::scenario::Kind;
use crate::exchange::xml::Element;

/// What a package says of an option.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Mark {
    Right,
    Wrong,
    /// Its place in the right order, from 1.
    Place(usize),
    /// The package does not say.
    Untold,
}

/// The values that a declaration calls right, in its order.
pub(super) struct Marking {
    right: Vec<String>,
    ordered: bool,
}

impl Marking {
    pub(super) fn of(declared: &Element, kind: Kind, findings: &mut Findings) -> Self {
        for points in declared.children().filter(|child| child.name.ends_with("-mapping")) {
            findings.note(
                points.line,
                "points",
                "points for single options are not taken; an answer is right or it is not",
            );
        }
        Self { right: right(declared), ordered: kind == Kind::PutInOrder }
    }

    pub(super) fn mark(&self, identifier: &str) -> Mark {
        match self.right.iter().position(|right| right == identifier) {
            _ if self.right.is_empty() => Mark::Untold,
            Some(place) if self.ordered => Mark::Place(place + 1),
            None if self.ordered => Mark::Untold,
            Some(_) => Mark::Right,
            None => Mark::Wrong,
        }
    }
}

fn right(declared: &Element) -> Vec<String> {
    let values = declared.child("qti-correct-response").map(|correct| correct.all("qti-value")).unwrap_or_default();
    values.into_iter().map(Element::text).collect()
}

/// What a package says of a number.
pub(super) fn number(root: &Element, declared: &Element, unit: String, findings: &mut Findings) -> TakenNumber {
    for points in declared.children().filter(|child| child.name.ends_with("-mapping")) {
        findings.note(
            points.line,
            "points",
            "points for single numbers are not taken; an answer is right or it is not",
        );
    }
    let finite = |text: &str| text.trim().parse::<f64>().ok().filter(|number| number.is_finite());
    let value = right(declared).first().and_then(|text| finite(text));
    if value.is_none() {
        findings.note(declared.line, "qti-correct-response", "the package does not say which number is right");
    }
    let mut tolerance = None;
    let processing = root.child("qti-response-processing");
    for equal in processing.map(|processing| processing.all("qti-equal")).unwrap_or_default() {
        let stated = equal.attribute("tolerance").unwrap_or_default();
        match equal.attribute("tolerance-mode") {
            // Two numbers say how far below and above; a scenario has one, and the first stands for it.
            Some("absolute") if tolerance.is_none() => {
                let both: Vec<Option<f64>> = stated.split_whitespace().map(finite).collect();
                tolerance = both.first().copied().flatten();
                if both.len() > 1 && both.first() != both.last() {
                    findings.note(equal.line, "tolerance", "two tolerances are not taken; the first is noted");
                }
            }
            Some("relative") => {
                let stated = flow::on_one_line(stated);
                findings.note(
                    equal.line,
                    "tolerance",
                    format!("a tolerance of {stated} percent of the number is not taken; write one in the unit"),
                );
            }
            _ => {}
        }
    }
    TakenNumber { value, tolerance, unit }
}
