//! A question as it comes out of a template's text: what a technician sees, and the key with its reasons beside it.
//!
//! Works on a draft as well as on a published version. Its seeds are not those of practice or of any examination.

use super::Choice;
use crate::domain::bank::Bank;
use crate::domain::document::Problem;
use crate::domain::scenario::generate::{Seed, generate_all};
use crate::domain::scenario::misconception::find;
use crate::domain::scenario::question::{CautionWords, Key, Question};
use crate::domain::scenario::{Machine, Template};
use crate::domain::units::{TemperatureUnit, plain_number};
use crate::web::form::Fields;
use crate::web::question_card::{Given, QuestionCard};
use serde::Serialize;

/// The secret of previews. Sittings draw theirs at random.
const SECRET: [u8; 32] = *b"a trainer looks at the scenario.";

/// What a preview is made for.
#[derive(Clone, Debug)]
pub(super) struct Wanted {
    pub(super) machine: String,
    pub(super) seed: u64,
    pub(super) unit: TemperatureUnit,
}

impl Wanted {
    /// Reads the fields; what was not sent is the reader's own unit, the first seed and the first machine that fits.
    pub(super) fn read(fields: &Fields, unit: TemperatureUnit) -> Self {
        let unit = match fields.typed("unit") {
            "celsius" => TemperatureUnit::Celsius,
            "fahrenheit" => TemperatureUnit::Fahrenheit,
            _ => unit,
        };
        Self { machine: fields.typed("machine").to_owned(), seed: fields.typed("seed").parse().unwrap_or(1), unit }
    }
}

/// An option as a trainer sees it.
#[derive(Serialize)]
struct Explained {
    text: String,
    right: bool,
    chosen: bool,
    why: String,
}

/// A question with its key.
#[derive(Serialize)]
struct Made {
    card: QuestionCard,
    options: Vec<Explained>,
    number: Option<String>,
    wrong_numbers: Vec<String>,
    reasons: Vec<String>,
    cautions: Vec<CautionWords>,
}

/// The preview with its fields.
#[derive(Serialize)]
pub(super) struct Preview {
    machines: Vec<Choice>,
    machine: String,
    seed: u64,
    next_seed: u64,
    unit: TemperatureUnit,
    /// One; of a case every part.
    questions: Vec<Made>,
    why_not: Option<String>,
}

/// Makes a preview; takes a while, so call it where it blocks nobody.
pub(super) fn preview(bank: &Bank, key: &str, text: &str, version: u32, wanted: Wanted) -> Preview {
    let read = Template::read(key, key, text, &bank.lexicon());
    let fits = |machine: &&Machine| read.as_ref().map_or(true, |template| template.fits(&machine.profile.id));
    let machines: Vec<&Machine> = bank.machines().filter(fits).collect();
    let named = machines.iter().find(|machine| machine.profile.id == wanted.machine);
    let machine = named.or_else(|| machines.first()).copied();
    let seed = Seed { secret: SECRET, stream: wanted.seed };
    let made = match (&read, machine) {
        (Ok(template), Some(machine)) => generate_all(template, version, machine, seed, wanted.unit)
            .map_err(|error| format!("No question: {error}.")),
        (Ok(_), None) => Err("No machine of the bank fits.".to_owned()),
        (Err(problems), _) => Err(format!("The text has {} to put right first.", problems_in_words(problems))),
    };
    let choice = |machine: &&Machine| Choice { value: machine.profile.id.clone(), text: machine.profile.name.clone() };
    let (questions, why_not) = match made {
        Ok(questions) => (questions.iter().map(shown).collect(), None),
        Err(why_not) => (Vec::new(), Some(why_not)),
    };
    Preview {
        machines: machines.iter().map(choice).collect(),
        machine: machine.map(|machine| machine.profile.id.clone()).unwrap_or_default(),
        seed: wanted.seed,
        next_seed: wanted.seed.wrapping_add(1),
        unit: wanted.unit,
        questions,
        why_not,
    }
}

fn problems_in_words(problems: &[Problem]) -> String {
    if problems.len() == 1 { "one thing".to_owned() } else { format!("{} things", problems.len()) }
}

fn shown(question: &Question) -> Made {
    let explained = |place: usize, right: bool, prefix: &str| {
        let choice = &question.choices[place];
        let why = match choice.believes.as_deref().and_then(find) {
            Some(wrong) => format!("{prefix}{} Shows the belief \"{}\": {}", choice.why, wrong.name, wrong.believes),
            None => format!("{prefix}{}", choice.why),
        };
        Explained { text: choice.text.clone(), right, chosen: false, why }
    };
    let options = match &question.key {
        Key::Options(right) => {
            (0..question.choices.len()).map(|place| explained(place, right.contains(&place), "")).collect()
        }
        Key::Order(order) => {
            let in_order = (1..).zip(order);
            in_order.map(|(at, place): (usize, _)| explained(*place, true, &format!("Place {at}. "))).collect()
        }
        Key::Number { .. } => Vec::new(),
    };
    let number = match &question.key {
        Key::Number { value, tolerance } => Some(format!("{value}, right within {tolerance} either way")),
        _ => None,
    };
    let symbol = question.shown.unit.as_deref().unwrap_or_default();
    let wrong_number = |wrong: &crate::domain::scenario::question::WrongNumber| {
        let name = find(&wrong.believes).map_or(wrong.believes.as_str(), |found| found.name);
        format!("{} {symbol}: {name}. {}", plain_number(wrong.value), wrong.why)
    };
    Made {
        card: QuestionCard::new(&question.shown, &Given::default()),
        options,
        number,
        wrong_numbers: question.wrong_numbers.iter().map(wrong_number).collect(),
        reasons: question.reasons.clone(),
        cautions: question.cautions.clone(),
    }
}
