//! What the bank asks about and what it leaves out: competences against levels, kinds, machines and bands, and how much
//! each scenario really varies.
//!
//! Counts scenarios, not questions: a scenario gives as many questions as one likes. Never says how many are enough.

use super::{Bank, Competence, TemplateEntry};
use crate::scenario::check::{FEWEST_DIFFERENT, look};
use crate::scenario::generate::{Seed, generate_all};
use crate::scenario::question::{Key, Kind, Question};
use crate::scenario::template::CASE;
use crate::scenario::{Machine, Template};
use crate::units::TemperatureUnit;
use std::collections::{BTreeMap, BTreeSet};

/// The secret of the questions that are counted. Sittings draw theirs at random.
const SECRET: [u8; 32] = *b"counting what the bank asks for.";

/// Questions made of each scenario, when nobody says otherwise; chosen by us: what comes once in fifty questions is seen
/// with more than 98 % certainty.
pub const QUESTIONS: u64 = 200;

/// The levels, as people say them.
const LEVELS: [&str; 3] = ["1, knows", "2, applies", "3, judges"];

/// Competences against something, in numbers of scenarios.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// What the columns are.
    pub across: &'static str,
    /// The columns' heads.
    pub columns: Vec<String>,
    /// A competence's name with its number for each column.
    pub rows: Vec<TableRow>,
}

/// A competence's numbers of scenarios.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableRow {
    /// The competence's name.
    pub competence: String,
    /// Whether a wrong answer forbids a certificate.
    pub mandatory: bool,
    /// Scenarios for each column.
    pub scenarios: Vec<usize>,
}

/// How much a scenario varies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Variety {
    /// The scenario's name in the bank.
    pub template: String,
    /// Its title.
    pub title: String,
    /// Questions that were made, on all its machines together.
    pub questions: usize,
    /// How many of them a reader can tell apart.
    pub different: usize,
    /// Right answers, each with the options it was picked from, on the machine that has most of them.
    pub answers: usize,
}

impl Variety {
    /// Whether options and right answer stay the same, so that they can be learnt by heart.
    #[must_use]
    pub const fn is_always_answered_alike(&self) -> bool {
        self.answers == 1
    }
}

/// What the bank asks about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Coverage {
    /// Competences against levels, kinds, machines and bands.
    pub tables: Vec<Table>,
    /// Each scenario's variety, by name.
    pub varieties: Vec<Variety>,
    /// What is left out, each as a sentence.
    pub holes: Vec<String>,
}

impl Coverage {
    /// Looks at the whole bank, with some questions of each scenario; its machines take turns.
    #[must_use]
    pub fn of(bank: &Bank, questions: u64) -> Self {
        let sampled: BTreeMap<&str, Sampled> =
            bank.templates().map(|entry| (entry.template.id.as_str(), Sampled::of(bank, entry, questions))).collect();
        let machines: Vec<&Machine> = bank.machines().collect();
        let names = machines.iter().map(|machine| machine.profile.name.clone()).collect();
        let fits = |template: &Template, at: usize| template.fits(&machines[at].profile.id);
        let kinds = Kind::ALL.map(Kind::words).into_iter().chain([CASE]).map(str::to_owned).collect();
        let bands = bands(bank);
        let reaches = |template: &Template, at: usize| {
            sampled.get(template.id.as_str()).is_some_and(|sampled| sampled.bands.contains(&bands[at].0))
        };
        let tables = vec![
            table(bank, "level", LEVELS.map(str::to_owned).to_vec(), |template, at| {
                usize::from(template.level) == at + 1
            }),
            // The column behind the last kind is the cases', which have no kind of their own.
            table(bank, "kind", kinds, |template, at| template.kind() == Kind::ALL.get(at).copied()),
            table(bank, "machine", names, fits),
            table(bank, "band of soot load", bands.iter().map(|(_, name)| name.clone()).collect(), reaches),
        ];
        let varieties: Vec<Variety> = bank.templates().map(|entry| variety(entry, &sampled)).collect();
        let holes = holes(&tables, &varieties);
        Self { tables, varieties, holes }
    }
}

/// What the questions of one scenario show.
#[derive(Default)]
struct Sampled {
    questions: usize,
    looks: BTreeSet<Vec<u64>>,
    bands: BTreeSet<String>,
    /// For each machine, right answers with the options they were picked from.
    answers: BTreeMap<String, BTreeSet<Vec<String>>>,
}

impl Sampled {
    fn of(bank: &Bank, entry: &TemplateEntry, questions: u64) -> Self {
        let fitting: Vec<&Machine> =
            bank.machines().filter(|machine| entry.template.fits(&machine.profile.id)).collect();
        let mut sampled = Self::default();
        for (stream, machine) in (0..questions).zip(fitting.iter().cycle()) {
            let seed = Seed { secret: SECRET, stream };
            // What gives no question is for the check to report.
            let made = generate_all(&entry.template, entry.version, machine, seed, TemperatureUnit::Celsius);
            if let Ok(questions) = made {
                sampled.count(&questions);
            }
        }
        sampled
    }

    /// Counts one question, or one case with all its parts: somebody who knows one part by heart does not know the case.
    fn count(&mut self, questions: &[Question]) {
        self.questions += 1;
        self.looks.insert(questions.iter().map(look).collect());
        self.bands.extend(questions.iter().map(|question| question.verdict.band.clone()));
        if let Some(first) = questions.first() {
            let answers = questions.iter().flat_map(answer).collect();
            self.answers.entry(first.source.machine.clone()).or_default().insert(answers);
        }
    }
}

/// The right answer in words, then the options it is picked from, in whatever order they stand.
fn answer(question: &Question) -> Vec<String> {
    let text = |place: &usize| question.choices.get(*place).map_or_else(String::new, |choice| choice.text.clone());
    let mut answer: Vec<String> = match &question.key {
        Key::Options(right) => right.iter().map(text).collect(),
        Key::Order(order) => return order.iter().map(text).collect(),
        Key::Number { value, .. } => vec![value.to_string()],
    };
    answer.sort_unstable();
    answer.push(String::new());
    let mut options = question.shown.options.clone();
    options.sort_unstable();
    answer.extend(options);
    answer
}

fn variety(entry: &TemplateEntry, sampled: &BTreeMap<&str, Sampled>) -> Variety {
    let sampled = sampled.get(entry.template.id.as_str());
    Variety {
        template: entry.template.id.clone(),
        title: entry.template.title.clone(),
        questions: sampled.map_or(0, |sampled| sampled.questions),
        different: sampled.map_or(0, |sampled| sampled.looks.len()),
        answers: sampled.and_then(|sampled| sampled.answers.values().map(BTreeSet::len).max()).unwrap_or(0),
    }
}

/// The bands of all machines by word and name, from the lowest soot load up.
fn bands(bank: &Bank) -> Vec<(String, String)> {
    let mut bands: Vec<(f64, String, String)> = Vec::new();
    for band in bank.machines().flat_map(|machine| &machine.profile.bands) {
        if !bands.iter().any(|(_, id, _)| *id == band.id) {
            bands.push((band.from_percent, band.id.clone(), band.name.clone()));
        }
    }
    bands.sort_by(|(a, ..), (b, ..)| a.total_cmp(b));
    bands.into_iter().map(|(_, id, name)| (id, name)).collect()
}

fn table(bank: &Bank, across: &'static str, columns: Vec<String>, belongs: impl Fn(&Template, usize) -> bool) -> Table {
    let scenarios = |competence: &Competence, at: usize| {
        let of = bank.templates().filter(|entry| entry.template.competence == competence.id);
        of.filter(|entry| belongs(&entry.template, at)).count()
    };
    let rows = bank.competences().iter().map(|competence| TableRow {
        competence: competence.name.clone(),
        mandatory: competence.mandatory,
        scenarios: (0..columns.len()).map(|at| scenarios(competence, at)).collect(),
    });
    Table { across, rows: rows.collect(), columns }
}

/// What is left out. That a competence does without a kind, or without a band that has nothing to do with it, is no hole;
/// that no competence has it is one.
fn holes(tables: &[Table], varieties: &[Variety]) -> Vec<String> {
    let mut holes = Vec::new();
    for Table { across, columns, rows } in tables {
        for (at, column) in columns.iter().enumerate() {
            let empty = || rows.iter().filter(|row| row.scenarios[at] == 0);
            match *across {
                "level" => {
                    holes
                        .extend(empty().map(|row| format!("Nothing asks about {} at level {column}.", row.competence)));
                }
                "machine" => {
                    holes.extend(empty().map(|row| format!("Nothing asks about {} on the {column}.", row.competence)));
                }
                _ if empty().count() == rows.len() => {
                    holes.push(format!("Nothing in the bank has the {across} \"{column}\"."));
                }
                _ => {}
            }
        }
    }
    for Variety { title, questions, different, .. } in varieties {
        if *different < FEWEST_DIFFERENT {
            holes.push(format!("\"{title}\" gives {different} different questions in {questions}."));
        }
    }
    holes
}
