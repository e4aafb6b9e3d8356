//! A question as a page shows it: the situation, the answer's fields, and what was answered so far.
//!
//! Made from [`Shown`] alone, so the key cannot get onto the page of an open question. Practice and examinations share
//! it; what follows after the answer is in [`explained`].

pub mod explained;

use super::form::Fields;
use super::plot::course;
use super::plot::gauge::{Gauge, GaugeBand, Tone};
use super::plot::line::LinePlot;
use super::view::FieldError;
use crate::domain::aftertreatment::lamp::{Lamp, LampSet};
use crate::domain::scenario::Kind;
use crate::domain::scenario::grade::{Answer, NotAnAnswer};
use crate::domain::scenario::question::{self, Shown};
use crate::domain::units::UnitError;
use serde::Serialize;

/// Longest typed number that is kept; chosen by us, far above any number with its unit.
const LONGEST_NUMBER: usize = 60;

/// What somebody has put into the fields of a question, whether or not it is an answer.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Given {
    /// The options that are chosen.
    choices: Vec<usize>,
    /// The place of each option, from 1; empty when none was given.
    places: Vec<usize>,
    /// What was typed for a number.
    number: String,
}

impl Given {
    /// What stands in a saved answer.
    #[must_use]
    pub fn saved(answer: &Answer) -> Self {
        match answer {
            Answer::Options(chosen) => Self { choices: chosen.clone(), ..Self::default() },
            Answer::Number(typed) => Self { number: typed.clone(), ..Self::default() },
            Answer::Order(order) => {
                let place_of = |option: usize| order.iter().position(|at| *at == option).map_or(0, |place| place + 1);
                Self { places: (0..order.len()).map(place_of).collect(), ..Self::default() }
            }
        }
    }

    /// What came with the form: `choice` once for each chosen option, `place_<option>` with the place of each option
    /// from 1, or `number`.
    #[must_use]
    pub fn sent(shown: &Shown, fields: &Fields) -> Self {
        // Whatever is not a place among the options is kept as one that is none, so that grading refuses it.
        let place = |text: &str| text.parse::<usize>().unwrap_or(usize::MAX);
        match shown.kind {
            Kind::ChooseOne | Kind::ChooseSeveral | Kind::LampPanel => {
                Self { choices: fields.all("choice").map(place).collect(), ..Self::default() }
            }
            Kind::PutInOrder => {
                let places = (0..shown.options.len()).map(|option| place(fields.typed(&format!("place_{option}"))));
                Self { places: places.collect(), ..Self::default() }
            }
            Kind::Number => {
                let typed = fields.typed("number").chars().filter(|c| !c.is_control()).take(LONGEST_NUMBER);
                Self { number: typed.collect(), ..Self::default() }
            }
        }
    }

    /// Whether nothing was put in.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.choices.is_empty() && self.number.is_empty() && self.places.iter().all(|place| *place == usize::MAX)
    }

    /// This as the answer to a question of a kind; `grade` says whether it is one.
    #[must_use]
    pub fn answer(&self, kind: Kind) -> Answer {
        match kind {
            Kind::ChooseOne | Kind::ChooseSeveral | Kind::LampPanel => Answer::Options(self.choices.clone()),
            Kind::Number => Answer::Number(self.number.clone()),
            Kind::PutInOrder => {
                let at = |place: usize| self.places.iter().position(|given| *given == place);
                // A place that stands twice leaves another one empty: then this is no order, and an empty list says so.
                Answer::Order((1..=self.places.len()).map(at).collect::<Option<_>>().unwrap_or_default())
            }
        }
    }
}

/// What is wrong with an answer, beside the field where it is.
#[must_use]
pub fn wrong(kind: Kind, not: &NotAnAnswer) -> FieldError {
    let message = match (kind, not) {
        (Kind::Number, NotAnAnswer::Nothing) => "Type a number.".to_owned(),
        (Kind::ChooseSeveral, NotAnAnswer::Nothing) => "Choose at least one answer.".to_owned(),
        (Kind::LampPanel, NotAnAnswer::Nothing) => "Choose each lamp that is lit, or \"No lamp\".".to_owned(),
        (_, NotAnAnswer::LitAndNone) => {
            "You chose a lamp and \"No lamp\". Choose the lamps that are lit, or that none is.".to_owned()
        }
        (_, NotAnAnswer::Nothing) => "Choose an answer.".to_owned(),
        (_, NotAnAnswer::NotAnOrder) => "Give each step a place of its own: no place twice.".to_owned(),
        (_, NotAnAnswer::NotAnOption) => "Choose among the answers that stand here.".to_owned(),
        (_, NotAnAnswer::NotANumber(UnitError::UnknownUnit(unit))) => {
            format!("The unit \"{unit}\" is not known here. Write the number in the unit that is shown.")
        }
        (_, NotAnAnswer::NotANumber(_)) => "This is not a number. Write digits, such as 12.5.".to_owned(),
        (_, NotAnAnswer::WrongUnit(unit)) => format!("This measures something else. Write the number in {unit}."),
        (_, NotAnAnswer::TwoReadings { typed, thousands, decimal }) => {
            format!("\"{typed}\" can be read in two ways. Write {thousands} or {decimal}.")
        }
    };
    FieldError { field: field(kind).to_owned(), message }
}

/// The name of the answer's field; of an order's fields, their common beginning.
const fn field(kind: Kind) -> &'static str {
    match kind {
        Kind::ChooseOne | Kind::ChooseSeveral | Kind::LampPanel => "choice",
        Kind::PutInOrder => "place",
        Kind::Number => "number",
    }
}

/// A label with its value.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Fact {
    label: String,
    value: String,
}

/// A lamp, lit or not.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LampShown {
    id: &'static str,
    word: &'static str,
    lit: bool,
}

/// An option that may be chosen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OptionShown {
    value: usize,
    text: String,
    chosen: bool,
    /// The lamp's pictogram, where the option is a lamp of the panel.
    lamp: Option<&'static str>,
}

/// A step that may be given a place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StepShown {
    value: usize,
    text: String,
    position: usize,
}

/// A question as the components of `components/question.html` take it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct QuestionCard {
    facts: Vec<Fact>,
    lamps: Option<Vec<LampShown>>,
    gauge: Option<Gauge>,
    /// The course of the shift: soot load and outlet temperature.
    plots: Vec<LinePlot>,
    story: Vec<String>,
    prompt: String,
    kind: Kind,
    options: Vec<OptionShown>,
    steps: Vec<StepShown>,
    unit: Option<String>,
    number: String,
    /// Whether a part of the right options earns a part of the question.
    by_part: bool,
    /// Where it stands in its case.
    case: Option<question::CasePlace>,
}

impl QuestionCard {
    /// The card of a question with what was put into its fields; `Given::default()` when nothing was yet.
    #[must_use]
    pub fn new(shown: &Shown, given: &Given) -> Self {
        let machine =
            Fact { label: "Machine".to_owned(), value: format!("{}, {}", shown.machine_name, shown.machine_kind) };
        let readings = shown.facts.iter().map(|(label, value)| Fact { label: label.clone(), value: value.clone() });
        let options = || shown.options.iter().enumerate();
        Self {
            facts: std::iter::once(machine).chain(readings).collect(),
            lamps: shown.lamps.map(lamps),
            gauge: shown.gauge.as_ref().map(gauge),
            plots: shown.course.iter().flat_map(course::before_the_moment).collect(),
            story: shown.story.clone(),
            prompt: shown.prompt.clone(),
            kind: shown.kind,
            options: options()
                .map(|(value, text)| OptionShown {
                    value,
                    text: text.clone(),
                    chosen: given.choices.contains(&value),
                    lamp: Lamp::ALL.get(value).filter(|_| shown.kind == Kind::LampPanel).map(|lamp| lamp.id()),
                })
                .collect(),
            steps: steps(shown, given),
            unit: shown.unit.clone(),
            number: given.number.clone(),
            by_part: shown.by_part,
            case: shown.case.clone(),
        }
    }
}

/// The steps as they now stand: in the order that was given, or else as the question shows them.
fn steps(shown: &Shown, given: &Given) -> Vec<StepShown> {
    let last = shown.options.len();
    let position = |value: usize| given.places.get(value).copied().filter(|place| (1..=last).contains(place));
    let all = shown.options.iter().enumerate();
    let mut steps: Vec<StepShown> = all
        .map(|(value, text)| StepShown { value, text: text.clone(), position: position(value).unwrap_or(value + 1) })
        .collect();
    steps.sort_by_key(|step| step.position);
    steps
}

/// Every lamp of the panel, lit or not.
fn lamps(lit: LampSet) -> Vec<LampShown> {
    Lamp::ALL.into_iter().map(|lamp| lamp_shown(lamp, lit.contains(lamp))).collect()
}

/// One lamp of the panel.
pub(super) fn lamp_shown(lamp: Lamp, lit: bool) -> LampShown {
    LampShown { id: lamp.id(), word: lamp.name(), lit }
}

/// The gauge of a question: its bands all look alike, because what a band asks for may be what is asked.
fn gauge(of: &question::Gauge) -> Gauge {
    let band = |(name, from): &(String, f64)| GaugeBand { name: name.clone(), from_percent: *from, tone: Tone::Normal };
    Gauge {
        label: "Soot load".to_owned(),
        reading_percent: Some(of.soot_percent),
        up_to_percent: Gauge::end_after(of.bands.last().map_or(100.0, |band| band.1)),
        bands: of.bands.iter().map(band).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(kind: Kind) -> Shown {
        Shown {
            kind,
            machine_name: "Tarrel 60".to_owned(),
            machine_kind: "telehandler".to_owned(),
            facts: Vec::new(),
            lamps: None,
            gauge: None,
            course: None,
            story: Vec::new(),
            prompt: "What first?".to_owned(),
            options: ["a", "b", "c"].map(str::to_owned).to_vec(),
            unit: None,
            by_part: false,
            case: None,
        }
    }

    fn sent(kind: Kind, form: &str) -> Answer {
        Given::sent(&shown(kind), &Fields::from_text(form).unwrap()).answer(kind)
    }

    #[test]
    fn a_form_becomes_an_answer() {
        assert_eq!(sent(Kind::ChooseOne, "choice=2"), Answer::Options(vec![2]));
        assert_eq!(sent(Kind::ChooseSeveral, "choice=0&choice=2"), Answer::Options(vec![0, 2]));
        assert_eq!(sent(Kind::ChooseOne, ""), Answer::Options(Vec::new()));
        assert_eq!(sent(Kind::ChooseOne, "choice=x"), Answer::Options(vec![usize::MAX]));
        assert_eq!(sent(Kind::PutInOrder, "place_0=3&place_1=1&place_2=2"), Answer::Order(vec![1, 2, 0]));
        for no_order in ["place_0=1&place_1=1&place_2=2", "place_0=1&place_1=2", "place_0=1&place_1=2&place_2=9"] {
            assert_eq!(sent(Kind::PutInOrder, no_order), Answer::Order(Vec::new()), "{no_order}");
        }
        assert_eq!(sent(Kind::Number, "number=12%2C5%00+h"), Answer::Number("12,5 h".to_owned()));
    }

    #[test]
    fn a_saved_answer_fills_the_fields_it_came_from() {
        for (kind, answer) in [
            (Kind::ChooseSeveral, Answer::Options(vec![0, 2])),
            (Kind::LampPanel, Answer::Options(vec![1, 2])),
            (Kind::PutInOrder, Answer::Order(vec![1, 2, 0])),
            (Kind::Number, Answer::Number("12,5 h".to_owned())),
        ] {
            assert_eq!(Given::saved(&answer).answer(kind), answer);
        }
        let card = QuestionCard::new(&shown(Kind::PutInOrder), &Given::saved(&Answer::Order(vec![1, 2, 0])));
        let standing: Vec<_> = card.steps.iter().map(|step| (step.position, step.text.as_str())).collect();
        assert_eq!(standing, [(1, "b"), (2, "c"), (3, "a")]);
        let card = QuestionCard::new(&shown(Kind::ChooseSeveral), &Given::saved(&Answer::Options(vec![0, 2])));
        assert_eq!(card.options.iter().map(|option| option.chosen).collect::<Vec<_>>(), [true, false, true]);
    }

    #[test]
    fn places_that_are_no_order_stay_as_they_were_typed() {
        let typed = Fields::from_text("place_0=2&place_1=2&place_2=1").unwrap();
        let given = Given::sent(&shown(Kind::PutInOrder), &typed);
        let card = QuestionCard::new(&shown(Kind::PutInOrder), &given);
        let standing: Vec<_> = card.steps.iter().map(|step| (step.position, step.text.as_str())).collect();
        assert_eq!(standing, [(1, "c"), (2, "a"), (2, "b")]);
    }
}
