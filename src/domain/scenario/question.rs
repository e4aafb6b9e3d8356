//! A question: one instance of a template, frozen with its key, its reasons and everything needed to make it again.
//!
//! [`Question::shown`] is all that may reach a candidate before the answer is in; the key is not part of it.

use super::course::Course;
use crate::aftertreatment::explain::Verdict;
use crate::aftertreatment::hazard::SignalWord;
use crate::aftertreatment::lamp::LampSet;
use crate::aftertreatment::profile::Caution;
use crate::aftertreatment::situation::Situation;
use crate::units::{Quantity, TemperatureUnit, told};
use serde::{Deserialize, Serialize};

/// How a question is answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// One option is right.
    ChooseOne,
    /// Several options are right; all of them and no other must be chosen.
    ChooseSeveral,
    /// The options have an order.
    PutInOrder,
    /// A number with a unit.
    Number,
    /// Each lamp of the panel is lit or out; the last option is that none is lit.
    LampPanel,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 5] = [Self::ChooseOne, Self::ChooseSeveral, Self::PutInOrder, Self::Number, Self::LampPanel];

    /// How files and people write it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::ChooseOne => "choose one",
            Self::ChooseSeveral => "choose several",
            Self::PutInOrder => "put in order",
            Self::Number => "number",
            Self::LampPanel => "lamp panel",
        }
    }

    /// Finds a kind by how files write it.
    #[must_use]
    pub fn from_words(words: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.words() == words)
    }
}

/// What a question was made from. The same source gives the same question, byte for byte.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Source {
    /// The template.
    pub template: String,
    /// Its version.
    pub template_version: u32,
    /// The machine profile.
    pub machine: String,
    /// Its version.
    pub machine_version: u32,
    /// The filter model's version.
    pub model_version: u32,
    /// The stream of the sitting's seed.
    pub stream: u64,
    /// The scale the reader wanted.
    pub temperature_unit: TemperatureUnit,
}

/// An option with what it is worth.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Choice {
    /// What the reader sees.
    pub text: String,
    /// Why it is right or wrong.
    pub why: String,
    /// The misconception that picks it, or leaves it out.
    pub believes: Option<String>,
}

/// The right answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Key {
    /// The places of the right options, rising.
    Options(Vec<usize>),
    /// The places of all options in the right order.
    Order(Vec<usize>),
    /// A number and how far an answer may be off.
    Number {
        /// The model's number.
        value: Quantity,
        /// The tolerance, in the same unit.
        tolerance: Quantity,
    },
}

/// A number that a misconception gives.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WrongNumber {
    /// The misconception.
    pub believes: String,
    /// What it gives, in the key's unit.
    pub value: f64,
    /// What is wrong with it.
    pub why: String,
}

/// The soot gauge beside the story.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Gauge {
    /// The reading in percent.
    pub soot_percent: f64,
    /// The machine's bands: name and lower end in percent, rising.
    pub bands: Vec<(String, f64)>,
}

/// A caution in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CautionWords {
    /// How bad it can be.
    pub signal: SignalWord,
    /// What is dangerous.
    pub what: String,
    /// What can happen.
    pub consequence: String,
    /// What to do.
    pub avoid: String,
}

impl CautionWords {
    /// A machine's caution, with its temperatures in the reader's scale.
    #[must_use]
    pub fn of(caution: &Caution, unit: TemperatureUnit) -> Self {
        let told = |text: &str| told::temperatures(text, unit).into_owned();
        let Caution { signal, what, consequence, avoid, .. } = caution;
        Self { signal: *signal, what: told(what), consequence: told(consequence), avoid: told(avoid) }
    }
}

/// Where a question stands in a case: several questions in a row on one machine, while things unfold. Never what the case
/// is called: a title can hint at the answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CasePlace {
    /// Which part it is, from 1.
    pub part: usize,
    /// How many parts the case has.
    pub of: usize,
    /// What the parts before it told, in paragraphs. The same whatever was answered there.
    pub so_far: Vec<String>,
}

/// What a candidate may see before the answer is in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Shown {
    /// How it is answered.
    pub kind: Kind,
    /// What the machine is called.
    pub machine_name: String,
    /// What kind of machine it is.
    pub machine_kind: String,
    /// Readings: label and value.
    pub facts: Vec<(String, String)>,
    /// Lit lamps, when they are shown.
    pub lamps: Option<LampSet>,
    /// The soot gauge, when it is shown.
    pub gauge: Option<Gauge>,
    /// The course of the shift, when it is shown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub course: Option<Course>,
    /// The story's paragraphs.
    pub story: Vec<String>,
    /// The question.
    pub prompt: String,
    /// The options' texts, in the order shown.
    pub options: Vec<String>,
    /// The unit a number is wanted in.
    pub unit: Option<String>,
    /// Whether a part of the right options earns a part of the question.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub by_part: bool,
    /// Where it stands in its case; nothing for a question that stands alone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub case: Option<CasePlace>,
}

/// One question, frozen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Question {
    /// What it was made from.
    pub source: Source,
    /// The competence it asks for.
    pub competence: String,
    /// Whether a wrong answer forbids a certificate.
    pub mandatory: bool,
    /// 1 knows, 2 applies, 3 judges.
    pub level: u8,
    /// What the candidate sees.
    pub shown: Shown,
    /// The options with their reasons; as many as `shown.options`.
    pub choices: Vec<Choice>,
    /// The right answer.
    pub key: Key,
    /// Numbers that misconceptions give, for a question that wants a number.
    pub wrong_numbers: Vec<WrongNumber>,
    /// The moment that is asked about.
    pub situation: Situation,
    /// The model's answer for it.
    pub verdict: Verdict,
    /// Why the right answer is right, in sentences.
    pub reasons: Vec<String>,
    /// What helps somebody who practises, in paragraphs. Never shown in an examination, so not part of `shown`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hints: Vec<String>,
    /// The cautions for this situation, worst first.
    pub cautions: Vec<CautionWords>,
}

impl Question {
    /// The question as bytes: the form in which it is stored and compared.
    #[must_use]
    pub fn bytes(&self) -> Vec<u8> {
        serde_json::to_vec(self).unwrap_or_default()
    }

    /// Which part of its case it is, from 1, and of how many; the first of one for a question that stands alone.
    #[must_use]
    pub fn part(&self) -> (usize, usize) {
        self.shown.case.as_ref().map_or((1, 1), |case| (case.part, case.of))
    }

    /// Whether two questions would look alike to somebody who gets both: one scenario on one machine, or the same words and
    /// the same right answer at nearly the same readings. The parts of one case do not.
    #[must_use]
    pub fn looks_like(&self, other: &Self) -> bool {
        let same = self.source.template == other.source.template;
        if same && self.part() != other.part() {
            return false;
        }
        (same && self.source.machine == other.source.machine) || self.reads_like(other)
    }

    /// Whether whoever has answered one knows the other: the same part of one scenario at nearly the same readings, on
    /// whatever machine, or what reads like it. Between practice and an examination of one person this never happens.
    #[must_use]
    pub fn asks_again(&self, other: &Self) -> bool {
        let same = self.source.template == other.source.template && self.part() == other.part();
        (same && near(&self.situation, &other.situation)) || self.reads_like(other)
    }

    /// Whether a reader would take one for the other: same words apart from numbers and the machine, same options with the
    /// same ones right, and readings near to each other.
    fn reads_like(&self, other: &Self) -> bool {
        self.shown.kind == other.shown.kind
            && near(&self.situation, &other.situation)
            && self.shown.words() == other.shown.words()
            && self.right_and_wrong() == other.right_and_wrong()
    }

    /// The options without their numbers, each with whether or where it is right, in whatever order they stand.
    fn right_and_wrong(&self) -> Vec<(String, Option<usize>)> {
        let right = |place: usize| match &self.key {
            Key::Options(right) => right.contains(&place).then_some(0),
            Key::Order(order) => order.iter().position(|shown| *shown == place),
            Key::Number { .. } => None,
        };
        let options = self.shown.options.iter().enumerate();
        let mut options: Vec<_> = options.map(|(place, text)| (without_numbers(text), right(place))).collect();
        options.sort_unstable();
        options
    }
}

impl Shown {
    /// What is told and asked, without numbers and the machine's name.
    #[must_use]
    pub fn words(&self) -> Vec<String> {
        let told = self.story.iter().chain([&self.prompt]);
        told.map(|text| without_numbers(&text.replace(&self.machine_name, "machine"))).collect()
    }
}

/// A text with a `#` for each number.
fn without_numbers(text: &str) -> String {
    let mut words = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '0'..='9' if words.ends_with('#') => {}
            '0'..='9' => words.push('#'),
            other => words.push(other),
        }
    }
    // "12.5" is one number; the dot of "12. The" ends a sentence.
    words.replace("#.#", "#")
}

/// Whether readings are so near to each other that nobody would tell the moments apart; the distances are ours: what one
/// sees at a glance on a gauge.
fn near(a: &Situation, b: &Situation) -> bool {
    let within = |a: f64, b: f64, distance: f64| (a - b).abs() <= distance;
    let readings = within(a.soot_percent, b.soot_percent, 5.0)
        && within(a.ash_percent, b.ash_percent, 5.0)
        && within(a.outlet_c, b.outlet_c, 20.0)
        && within(a.speed_rpm, b.speed_rpm, 100.0)
        && within(a.load_percent, b.load_percent, 10.0)
        && within(a.hours_since_parked, b.hours_since_parked, 10.0);
    let without_readings = |s: &Situation| Situation {
        soot_percent: 0.0,
        ash_percent: 0.0,
        outlet_c: 0.0,
        speed_rpm: 0.0,
        load_percent: 0.0,
        hours_since_parked: 0.0,
        ..*s
    };
    readings && without_readings(a) == without_readings(b)
}
