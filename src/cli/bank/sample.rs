//! `sootmark bank sample`: questions of one scenario as a trainer reads them, with key and reasons, or as JSON.
//!
//! Its seed is its own: no question of an examination or of somebody's practice can be printed with it.

use super::documents;
use crate::cli::sheet::{Sheet, hand_over};
use crate::cli::{Failure, say};
use crate::domain::bank::{Bank, TemplateEntry};
use crate::domain::document::nearest;
use crate::domain::scenario::Machine;
use crate::domain::scenario::generate::{Seed, generate_all};
use crate::domain::scenario::question::{Key, Question};
use crate::domain::units::{Quantity, TemperatureUnit, Unit, plain_number};
use clap::Args;
use std::path::PathBuf;
use std::process::ExitCode;

/// Print questions of one scenario with the right answer and the reasons.
#[derive(Debug, Args)]
#[command(after_help = "With --json, each question is one JSON object on a line of its own, as it is stored: source, \
                  competence, mandatory, level, shown (what a candidate sees), choices, key, wrong_numbers, situation, \
                  verdict, reasons, cautions. The places in a key count from 0.\n\n\
                  EXIT CODES: 0 printed; 1 no such scenario or machine, or no question came out; 2 the command line is wrong.")]
pub(crate) struct Sample {
    /// The scenario, such as fire/straw-under-the-boom.
    template: String,
    /// The machine's id. Left out: the machines that fit take turns from seed to seed.
    #[arg(long, value_name = "ID")]
    machine: Option<String>,
    /// The first question's seed.
    #[arg(long, default_value_t = 1, value_name = "N", value_parser = clap::value_parser!(u64).range(..1 << 62))]
    seed: u64,
    /// How many questions, a case with all its parts counted as one; each has the next seed.
    #[arg(long, default_value_t = 1, value_name = "K", value_parser = clap::value_parser!(u64).range(1..=10_000))]
    count: u64,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// The folder of the bank. Left out: the bank that is built into the program.
    #[arg(long, value_name = "DIR")]
    bank: Option<PathBuf>,
}

impl Sample {
    /// Runs the command.
    pub(crate) fn run(self) -> Result<ExitCode, Failure> {
        let (documents, mut problems) = documents(self.bank.as_deref())?;
        let (bank, broken) = Bank::read(&documents);
        let Some(entry) = bank.template(&self.template) else {
            let its_file = documents.iter().find(|document| document.key == self.template).map(|found| &found.file);
            problems.extend(broken);
            problems.retain(|problem| Some(&problem.file) == its_file);
            for problem in &problems {
                say(&problem.to_string());
            }
            return Err(no_template(&bank, &self.template, problems.len()));
        };
        let machines = self.machines(&bank, entry)?;
        for seed in self.seed..self.seed + self.count {
            let turn = seed % machines.len() as u64;
            let machine = machines[usize::try_from(turn).unwrap_or_default()];
            let secret = *b"showing a scenario of the bank. ";
            let drawn = Seed { secret, stream: seed };
            let questions = generate_all(&entry.template, entry.version, machine, drawn, TemperatureUnit::Celsius)
                .map_err(|error| format!("{} (on {}, seed {seed}): {error}", entry.file, machine.profile.id))?;
            for (place, question) in questions.iter().enumerate() {
                let more = if self.json {
                    hand_over(&(serde_json::to_string(question)? + "\n"))?
                } else {
                    let mut sheet = Sheet::default();
                    if seed > self.seed || place > 0 {
                        sheet.gap();
                    }
                    write(&mut sheet, question, &entry.template.title);
                    sheet.hand_over()?
                };
                if !more {
                    return Ok(ExitCode::SUCCESS);
                }
            }
        }
        Ok(ExitCode::SUCCESS)
    }

    fn machines<'b>(&self, bank: &'b Bank, entry: &TemplateEntry) -> Result<Vec<&'b Machine>, Failure> {
        let fits = |machine: &&Machine| entry.template.fits(&machine.profile.id);
        let fitting: Vec<&Machine> = bank.machines().filter(fits).collect();
        let ids = || fitting.iter().map(|machine| machine.profile.id.as_str()).collect::<Vec<_>>().join(", ");
        match &self.machine {
            None if fitting.is_empty() => Err(format!("{}: no machine of the bank fits", entry.file).into()),
            None => Ok(fitting),
            Some(wanted) => match fitting.iter().find(|machine| machine.profile.id == *wanted) {
                Some(machine) => Ok(vec![machine]),
                None => Err(format!("--machine {wanted}: the scenario {} fits {}", self.template, ids()).into()),
            },
        }
    }
}

fn no_template(bank: &Bank, wanted: &str, problems: usize) -> Failure {
    if problems > 0 {
        return format!("the scenario {wanted} is broken: correct what is listed").into();
    }
    match nearest(wanted, bank.templates().map(|entry| entry.template.id.as_str())) {
        Some(meant) => format!("there is no scenario {wanted}; did you mean {meant}?").into(),
        None => {
            let known: Vec<&str> = bank.templates().map(|entry| entry.template.id.as_str()).collect();
            format!("there is no scenario {wanted}. Known are:\n  {}", known.join("\n  ")).into()
        }
    }
}

/// A question as a trainer reads it.
fn write(sheet: &mut Sheet, question: &Question, title: &str) {
    let Question { source, shown, .. } = question;
    let part = shown.case.as_ref().map(|case| format!(", part {} of {}", case.part, case.of)).unwrap_or_default();
    sheet.line(&format!("{title} ({}), seed {}{part}", source.template, source.stream));
    let mandatory = if question.mandatory { ", safety-mandatory" } else { "" };
    let kind = shown.kind.words();
    sheet.line(&format!(
        "{} ({}); {}{mandatory}, level {}, {kind}",
        shown.machine_name, source.machine, question.competence, question.level
    ));
    sheet.gap();
    for (label, value) in &shown.facts {
        sheet.beside("Reading", &format!("{label}: {value}"));
    }
    if let Some(lamps) = shown.lamps {
        let lit: Vec<&str> = lamps.iter().map(|lamp| lamp.name()).collect();
        sheet.beside("Lamps lit", &if lit.is_empty() { "none".to_owned() } else { lit.join(", ") });
    }
    if let Some(gauge) = &shown.gauge {
        let percent = |value| Quantity::new(value, Unit::Percent);
        let bands: Vec<String> =
            gauge.bands.iter().map(|(name, from)| format!("{name} from {}", percent(*from))).collect();
        sheet.beside("Gauge", &format!("{}; {}", percent(gauge.soot_percent), bands.join(", ")));
    }
    if let Some(course) = &shown.course {
        sheet.beside("Course", &course.words());
    }
    for paragraph in &shown.story {
        sheet.beside("Story", paragraph);
    }
    sheet.beside("Question", &shown.prompt);
    sheet.gap();
    for (place, choice) in question.choices.iter().enumerate() {
        sheet.beside(&format!("{:>3}", place + 1), &choice.text);
        sheet.beside("", &format!("{}{}", mark(question, place), choice.why));
        sheet.beside("", &choice.believes.as_ref().map(|id| format!("Picked by: {id}.")).unwrap_or_default());
    }
    sheet.beside("Right", &right(question));
    for wrong in &question.wrong_numbers {
        let unit = shown.unit.as_deref().unwrap_or_default();
        let value = plain_number(wrong.value);
        sheet.beside("Wrong", &format!("{value} {unit}: {} ({}).", wrong.why.trim_end_matches('.'), wrong.believes));
    }
    for reason in &question.reasons {
        sheet.beside("Why", reason);
    }
    for caution in &question.cautions {
        sheet.beside(caution.signal.word(), &format!("{} {} {}", caution.what, caution.consequence, caution.avoid));
    }
}

/// "Right." or "Wrong." before the reason of an option that is one or the other.
fn mark(question: &Question, place: usize) -> &'static str {
    match &question.key {
        Key::Options(right) if right.contains(&place) => "Right. ",
        Key::Options(_) => "Wrong. ",
        Key::Order(_) | Key::Number { .. } => "",
    }
}

fn right(question: &Question) -> String {
    let places = |places: &[usize]| places.iter().map(|place| (place + 1).to_string()).collect::<Vec<_>>();
    match &question.key {
        Key::Options(right) => places(right).join(", "),
        Key::Order(order) => places(order).join(", then "),
        Key::Number { value, tolerance } => format!("{value}, give or take {tolerance}"),
    }
}
