//! A frozen question with what was answered, for the record: what was seen, what was chosen, what is right and why.
//!
//! Only for graded sittings: it holds the key.

use super::events::competence_name;
use crate::domain::bank::Bank;
use crate::domain::scenario::grade::Answer;
use crate::domain::scenario::misconception;
use crate::domain::scenario::question::{CautionWords, Key, Question};
use crate::domain::units::plain_number;
use crate::store::read::sitting::Asked;
use serde::Serialize;

#[derive(Serialize)]
struct Fact {
    label: String,
    value: String,
}

/// One option with what became of it.
#[derive(Serialize)]
struct OptionRow {
    text: String,
    why: String,
    verdict: &'static str,
    chosen: bool,
    right: bool,
}

#[derive(Serialize)]
struct Belief {
    believes: &'static str,
    teach: &'static str,
}

/// A question of the record.
#[derive(Serialize)]
pub(super) struct FrozenQuestion {
    position: i32,
    competence: String,
    mandatory: bool,
    pub(super) correct: bool,
    verdict: &'static str,
    saved_at: Option<i64>,
    facts: Vec<Fact>,
    story: Vec<String>,
    prompt: String,
    options: Vec<OptionRow>,
    /// What was answered and what is right, where that is not said by the options: an order or a number.
    given: Option<String>,
    wanted: Option<String>,
    believed: Vec<Belief>,
    reasons: Vec<String>,
    /// Worst first; only with a question that was missed.
    cautions: Vec<CautionWords>,
    source: String,
}

impl FrozenQuestion {
    pub(super) fn of(asked: &Asked, bank: &Bank) -> Self {
        let question = &asked.question;
        let answer = asked.answer.as_ref().map(|(answer, _)| answer);
        let (given, wanted) = in_words(question, answer);
        let source = &question.source;
        Self {
            position: asked.position,
            competence: competence_name(bank, &question.competence),
            mandatory: question.mandatory,
            correct: asked.correct,
            verdict: match (asked.correct, answer) {
                (true, _) => "right",
                (false, Some(_)) => "wrong",
                (false, None) => "not answered",
            },
            saved_at: asked.answer.as_ref().map(|(_, at)| at.0),
            facts: facts(question),
            story: so_far(question).chain(&question.shown.story).cloned().collect(),
            prompt: question.shown.prompt.clone(),
            options: options(question, answer),
            given,
            wanted,
            believed: asked
                .misconceptions
                .iter()
                .filter_map(|id| misconception::find(id))
                .map(|found| Belief { believes: found.believes, teach: found.teach })
                .collect(),
            reasons: question.reasons.clone(),
            cautions: if asked.correct { Vec::new() } else { question.cautions.clone() },
            source: format!(
                "Template {} version {}, machine {} version {}, model version {}, level {}.",
                source.template,
                source.template_version,
                source.machine,
                source.machine_version,
                source.model_version,
                question.level
            ),
        }
    }
}

/// What the parts of its case before it told.
fn so_far(question: &Question) -> impl Iterator<Item = &String> {
    question.shown.case.iter().flat_map(|case| &case.so_far)
}

/// What was seen beside the story, the figures in words.
fn facts(question: &Question) -> Vec<Fact> {
    let shown = &question.shown;
    let fact = |label: &str, value: String| Fact { label: label.to_owned(), value };
    let mut facts = vec![fact("Machine", format!("{}, {}", shown.machine_name, shown.machine_kind))];
    facts.extend(shown.case.as_ref().map(|case| fact("Case", format!("part {} of {}", case.part, case.of))));
    facts.extend(shown.facts.iter().map(|(label, value)| fact(label, value.clone())));
    if let Some(gauge) = &shown.gauge {
        facts.push(fact("Soot gauge", format!("{} %", plain_number(gauge.soot_percent))));
    }
    if let Some(lamps) = shown.lamps {
        let lit: Vec<&str> = lamps.iter().map(|lamp| lamp.name()).collect();
        facts.push(fact("Lamps lit", if lit.is_empty() { "none".to_owned() } else { lit.join(", ") }));
    }
    facts.extend(shown.course.as_ref().map(|course| fact("Course before this moment", course.words())));
    facts
}

/// The options of a question in which some are chosen.
fn options(question: &Question, answer: Option<&Answer>) -> Vec<OptionRow> {
    let Key::Options(right) = &question.key else { return Vec::new() };
    let chosen = match answer {
        Some(Answer::Options(chosen)) => chosen.as_slice(),
        _ => &[],
    };
    let row = |(place, choice): (usize, &crate::domain::scenario::question::Choice)| {
        let (chosen, right) = (chosen.contains(&place), right.contains(&place));
        OptionRow {
            text: choice.text.clone(),
            why: choice.why.clone(),
            verdict: match (chosen, right) {
                (true, true) => "Chosen, and right",
                (true, false) => "Chosen, not right",
                (false, true) => "Right, not chosen",
                (false, false) => "Not right, not chosen",
            },
            chosen,
            right,
        }
    };
    question.choices.iter().enumerate().map(row).collect()
}

fn in_words(question: &Question, answer: Option<&Answer>) -> (Option<String>, Option<String>) {
    let listed = |places: &[usize]| {
        let steps = places.iter().filter_map(|place| question.choices.get(*place));
        let numbered = (1..).zip(steps).map(|(number, step): (usize, _)| format!("{number}. {}", step.text));
        numbered.collect::<Vec<_>>().join(" ")
    };
    match (&question.key, answer) {
        (Key::Order(right), Some(Answer::Order(given))) => (Some(listed(given)), Some(listed(right))),
        (Key::Order(right), _) => (None, Some(listed(right))),
        (Key::Number { value, tolerance }, given) => {
            let typed = match given {
                Some(Answer::Number(typed)) => Some(typed.clone()),
                _ => None,
            };
            (typed, Some(format!("{value}, give or take {tolerance}")))
        }
        (Key::Options(_), _) => (None, None),
    }
}
