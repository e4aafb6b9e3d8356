//! What a change of a machine's profile does to the questions of the bank: the bank before and the bank after it, asked
//! the same things.
//!
//! Never says whether a change is right: it shows which answers it changes, what it leaves without an answer, and one
//! example of each in words.

use super::{Bank, TemplateEntry};
use crate::aftertreatment::lamp::Lamp;
use crate::document::Problem;
use crate::examination::form::assemble;
use crate::scenario::Machine;
use crate::scenario::check::faults;
use crate::scenario::generate::{Seed, generate_all};
use crate::scenario::question::{Key, Question};
use crate::units::{Quantity, TemperatureUnit, Unit};
use std::cmp::Reverse;

/// The secret of these questions: the same for every change, so that two looks at one change see the same. Sittings draw
/// theirs at random.
const SECRET: [u8; 32] = *b"what a change of a machine does.";
/// How many forms of each scheme are put together; chosen by us: a scheme that runs short does so in most of its forms.
const FORMS: u8 = 5;

/// What a change does.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Effect {
    /// How many scenario templates were tried.
    pub templates: usize,
    /// How many questions were made both before and after the change.
    pub questions: u64,
    /// Templates some of whose questions have another key now; mandatory ones before others, then those with most changes.
    pub changed: Vec<ChangedKeys>,
    /// Templates that fitted the machine and do not any more; mandatory ones before others.
    pub unfit: Vec<Unfit>,
    /// Schemes of which no form can be put together any more.
    pub schemes: Vec<Unfit>,
}

/// A template some of whose questions have another key now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangedKeys {
    /// The template's name.
    pub template: String,
    /// Its title.
    pub title: String,
    /// The competence it asks for.
    pub competence: String,
    /// Whether a wrong answer forbids a certificate.
    pub mandatory: bool,
    /// How many of its questions have another key.
    pub changed: u64,
    /// In how many of these the situation is the same, so that it is the answer to it that has changed. In the others the
    /// seed draws another situation now.
    pub same_situation: u64,
    /// How many were compared.
    pub compared: u64,
    /// One of them, before the change; of the same situation when there is one.
    pub before: Told,
    /// The same seed after the change.
    pub after: Told,
}

/// A question in words, with its answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// What stands beside it: readings, the gauge, the lit lamps, the course of the shift.
    pub readings: Vec<(String, String)>,
    /// What is asked.
    pub prompt: String,
    /// The right answer: every right option, every step in its order, or the number.
    pub answer: Vec<String>,
}

/// What no longer works, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unfit {
    /// Its name in the bank.
    pub id: String,
    /// Its title.
    pub title: String,
    /// Whether it asks what no one may get wrong.
    pub mandatory: bool,
    /// What stands in the way, with the line of its text where that is known.
    pub reason: String,
}

impl Effect {
    /// Asks both banks the same. `machine` is the machine whose profile differs; `seeds` is how many questions of each
    /// template are compared; `broken` is what was found wrong when `after` was read.
    #[must_use]
    pub fn of(
        before: &Bank,
        after: &Bank,
        broken: &[Problem],
        machine: &str,
        seeds: u64,
        unit: TemperatureUnit,
    ) -> Self {
        let mut effect = Self::default();
        for entry in before.templates().filter(|entry| after.template(&entry.template.id).is_none()) {
            effect.unfit.push(Unfit::template(entry, why_unread(broken, &entry.file)));
        }
        if let Some(new) = after.machine(machine) {
            let old = before.machine(machine);
            for entry in after.templates().filter(|entry| entry.template.fits(machine)) {
                effect.templates += 1;
                effect.template(entry, old, new, seeds, unit);
            }
        }
        for scheme in before.schemes() {
            effect.schemes.extend(scheme_unfit(before, after, &scheme.scheme.id, unit));
        }
        effect.unfit.sort_by_key(|each| (!each.mandatory, each.id.clone()));
        effect.changed.sort_by_key(|each| {
            let most = Reverse((each.same_situation, each.changed));
            (!each.mandatory, most, each.template.clone())
        });
        effect
    }

    fn template(
        &mut self,
        entry: &TemplateEntry,
        old: Option<&Machine>,
        new: &Machine,
        seeds: u64,
        unit: TemperatureUnit,
    ) {
        let mut compared = Compared::default();
        let (mut fitted, mut unfit) = (true, None);
        for stream in 0..seeds {
            let after = made(entry, new, stream, unit);
            let before = old.map(|old| made(entry, old, stream, unit));
            fitted &= !matches!(before, Some(Err(_)));
            match (before, after) {
                (Some(Ok(before)), Ok(after)) => {
                    before.iter().zip(&after).for_each(|(before, after)| compared.compare(before, after));
                }
                (_, Err(reason)) if unfit.is_none() => unfit = Some(reason),
                _ => {}
            }
        }
        self.questions += compared.compared;
        self.changed.extend(compared.finish(entry));
        // What did not fit before either is no effect of the change.
        self.unfit.extend(unfit.filter(|_| fitted).map(|reason| Unfit::template(entry, reason)));
    }
}

/// A template's questions before and after, as far as they have been compared.
#[derive(Default)]
struct Compared {
    compared: u64,
    changed: u64,
    same_situation: u64,
    example: Option<(Told, Told)>,
}

impl Compared {
    fn compare(&mut self, before: &Question, after: &Question) {
        self.compared += 1;
        if same_key(before, after) {
            return;
        }
        self.changed += 1;
        let same_situation = before.situation == after.situation;
        if self.example.is_none() || (same_situation && self.same_situation == 0) {
            self.example = Some((Told::of(before), Told::of(after)));
        }
        self.same_situation += u64::from(same_situation);
    }

    fn finish(self, entry: &TemplateEntry) -> Option<ChangedKeys> {
        let template = &entry.template;
        let (before, after) = self.example?;
        Some(ChangedKeys {
            template: template.id.clone(),
            title: template.title.clone(),
            competence: template.competence.clone(),
            mandatory: template.mandatory,
            changed: self.changed,
            same_situation: self.same_situation,
            compared: self.compared,
            before,
            after,
        })
    }
}

impl Unfit {
    fn template(entry: &TemplateEntry, reason: String) -> Self {
        let template = &entry.template;
        Self { id: template.id.clone(), title: template.title.clone(), mandatory: template.mandatory, reason }
    }
}

impl Told {
    fn of(question: &Question) -> Self {
        let shown = &question.shown;
        let mut readings = shown.facts.clone();
        if let Some(gauge) = &shown.gauge {
            let reading = Quantity::new(gauge.soot_percent, Unit::Percent).to_string();
            // The gauge often stands beside the same reading in figures.
            if readings.iter().all(|(_, value)| *value != reading) {
                readings.push(("Soot gauge".to_owned(), reading));
            }
        }
        if let Some(lamps) = shown.lamps {
            let lit: Vec<&str> = lamps.iter().map(Lamp::name).collect();
            readings.push(("Lit".to_owned(), if lit.is_empty() { "none".to_owned() } else { lit.join(", ") }));
        }
        readings.extend(shown.course.as_ref().map(|course| ("Course".to_owned(), course.words())));
        Self { readings, prompt: shown.prompt.clone(), answer: answer(question) }
    }
}

/// The sound questions of a seed, one or every part of a case, or what is wrong.
fn made(entry: &TemplateEntry, machine: &Machine, stream: u64, unit: TemperatureUnit) -> Result<Vec<Question>, String> {
    let seed = Seed { secret: SECRET, stream };
    let made = generate_all(&entry.template, entry.version, machine, seed, unit);
    let questions = made.map_err(|error| error.to_string())?;
    match questions.iter().flat_map(|question| faults(&entry.template, machine, question)).next() {
        Some((line, message)) => Err(format!("line {line}: {message}")),
        None => Ok(questions),
    }
}

/// Whether the answer that was right before is right after: the same options or steps, wherever they stand, or a number
/// within the tolerance.
fn same_key(before: &Question, after: &Question) -> bool {
    match (&before.key, &after.key) {
        (Key::Number { value, .. }, Key::Number { value: now, tolerance }) => {
            value.in_unit(now.unit).is_some_and(|value| (value - now.value).abs() <= tolerance.value + 1e-9)
        }
        (Key::Order(_), Key::Order(_)) | (Key::Options(_), Key::Options(_)) => answer(before) == answer(after),
        _ => false,
    }
}

fn answer(question: &Question) -> Vec<String> {
    let text = |place: &usize| question.choices.get(*place).map(|choice| choice.text.clone());
    match &question.key {
        Key::Options(right) => {
            let mut right: Vec<String> = right.iter().filter_map(text).collect();
            right.sort();
            right
        }
        Key::Order(order) => order.iter().filter_map(text).collect(),
        Key::Number { value, tolerance } => vec![format!("{value}, right within {tolerance} either way")],
    }
}

fn why_unread(broken: &[Problem], file: &str) -> String {
    let own = broken.iter().filter(|problem| problem.file == file);
    let said: Vec<String> =
        own.map(|problem| format!("line {}, {}: {}", problem.line, problem.field, problem.message)).collect();
    if said.is_empty() { "it cannot be read any more".to_owned() } else { said.join("; ") }
}

/// A scheme that gave forms before and gives none now.
fn scheme_unfit(before: &Bank, after: &Bank, id: &str, unit: TemperatureUnit) -> Option<Unfit> {
    let forms = |bank: &Bank| {
        let scheme = &bank.scheme(id)?.scheme;
        let form = |nth: u8| assemble(bank, scheme, [nth; 32], unit).map_err(|error| error.to_string()).err();
        (1..=FORMS).find_map(form)
    };
    let title = before.scheme(id)?.scheme.title.clone();
    let reason = if after.scheme(id).is_none() { Some("it cannot be read any more".to_owned()) } else { forms(after) };
    let reason = reason.filter(|_| forms(before).is_none())?;
    Some(Unfit { id: id.to_owned(), title, mandatory: false, reason })
}
