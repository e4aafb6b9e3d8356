//! A form: the questions of one sitting, fixed by the scheme and a secret seed.
//!
//! Balanced over levels, bands and machines, the mandatory competences always in it, no two questions of one template on one
//! machine, the parts of a case side by side in their order, and every form as difficult as every other within
//! [`PARALLEL_WITHIN`]. Never asks again what the person has seen. Practice and examination never share a seed; that is for
//! whoever makes seeds.

use super::difficulty::{self, Answers};
use super::scheme::{Part, Scheme};
use crate::bank::{Bank, TemplateEntry};
use crate::scenario::Question;
use crate::scenario::draw::Draws;
use crate::scenario::generate::{Machine, Seed, generate_all};
use crate::units::TemperatureUnit;

/// The stream that the choice of templates draws from in the first draft; later drafts use the streams before it. Questions
/// count up from 0.
const CHOICE_STREAM: u64 = u64::MAX;

/// Questions drawn of one scenario on one machine before another machine is tried: a draw can come out like a question that
/// is in the form already. Chosen by us: draws that come out alike three times do not vary.
const TRIES: usize = 3;

/// How far the expected shares of wrong answers of two forms by one scheme, over one bank, may be apart: 4 in a hundred, about
/// one question of a form of 26. Chosen by us, far inside what one sitting can tell.
pub const PARALLEL_WITHIN: f64 = 0.04;

/// The largest share of a form's questions that may be about one band, once it has [`ENOUGH_FOR_BANDS`] questions; chosen by
/// us, because the mandatory competences are about the highest bands by their nature.
pub const MOST_OF_ONE_BAND: f64 = 0.5;
/// From how many questions on bands are counted.
pub const ENOUGH_FOR_BANDS: usize = 8;

/// Drafts made of one seed until one is balanced; chosen by us: of the shipped bank's schemes about three of four are.
const DRAFTS: u64 = 200;
/// Drafts that may lack questions before it is said that there are too few; chosen by us.
const SCARCE_DRAFTS: usize = 8;

/// Why there is no form.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoForm {
    /// The bank has too few questions for a competence.
    #[error("the bank gives only {found} of {wanted} questions for the competence \"{competence}\"")]
    TooFew {
        /// The competence.
        competence: String,
        /// Questions that the scheme wants.
        wanted: usize,
        /// Questions that there are.
        found: usize,
    },
    /// The bank's questions are so unlike each other that no draft came out as difficult as the others.
    #[error(
        "none of {DRAFTS} drafts is as difficult as others by this scheme; the bank needs more scenarios of each level"
    )]
    Unbalanced,
}

/// What a form is made for.
#[derive(Clone, Copy, Debug)]
pub struct Wanted<'a> {
    /// By which scheme.
    pub scheme: &'a Scheme,
    /// The secret that everything is drawn from.
    pub secret: [u8; 32],
    /// The scale of its questions.
    pub unit: TemperatureUnit,
    /// What the person has seen before.
    pub seen: &'a [Question],
    /// What everybody has answered so far.
    pub answers: &'a Answers,
}

/// Assembles the form of a seed for somebody who has seen nothing, before anything was answered.
///
/// # Errors
/// When the bank has too few different questions for a competence, or none that balance.
pub fn assemble(
    bank: &Bank,
    scheme: &Scheme,
    secret: [u8; 32],
    unit: TemperatureUnit,
) -> Result<Vec<Question>, NoForm> {
    assemble_for(bank, &Wanted { scheme, secret, unit, seen: &[], answers: &Answers::default() })
}

/// Assembles a form: draft after draft from the one seed, until one is balanced.
///
/// # Errors
/// When the bank has too few questions for a competence that the person has not seen, or none that balance.
pub fn assemble_for(bank: &Bank, wanted: &Wanted<'_>) -> Result<Vec<Question>, NoForm> {
    let meant = difficulty::meant(bank, wanted.scheme, wanted.answers);
    let mut too_few = Vec::new();
    for draft in 0..DRAFTS {
        match Draft::new(bank, wanted, draft).whole() {
            Ok(form) => {
                let apart = (difficulty::of_form(&form, wanted.answers) - meant).abs();
                if apart < PARALLEL_WITHIN / 2.0 && bands_are_mixed(&form) {
                    return Ok(form);
                }
            }
            // Where the person has seen nearly everything, another draft may still find enough.
            Err(missing) => too_few.push(missing),
        }
        if too_few.len() >= SCARCE_DRAFTS {
            break;
        }
    }
    Err(too_few.into_iter().next().unwrap_or(NoForm::Unbalanced))
}

/// Whether no band has too many of the questions.
#[expect(clippy::cast_precision_loss, reason = "far fewer questions than 2^52")]
fn bands_are_mixed(form: &[Question]) -> bool {
    let of_band = |band: &str| form.iter().filter(|question| question.verdict.band == band).count() as f64;
    form.len() < ENOUGH_FOR_BANDS
        || form.iter().all(|question| of_band(&question.verdict.band) <= MOST_OF_ONE_BAND * form.len() as f64)
}

/// One try at a form.
struct Draft<'a> {
    bank: &'a Bank,
    wanted: &'a Wanted<'a>,
    machines: Vec<&'a Machine>,
    draws: Draws,
    stream: u64,
    /// What belongs together: one question, or a case.
    found: Vec<Vec<Question>>,
}

impl<'a> Draft<'a> {
    fn new(bank: &'a Bank, wanted: &'a Wanted<'a>, draft: u64) -> Self {
        let machines = &wanted.scheme.machines;
        let asked_about = |machine: &&Machine| machines.is_empty() || machines.contains(&machine.profile.id);
        Self {
            bank,
            wanted,
            machines: bank.machines().filter(asked_about).collect(),
            draws: Draws::new(wanted.secret, CHOICE_STREAM - draft),
            // No question of one draft is drawn as one of another.
            stream: draft << 32,
            found: Vec::new(),
        }
    }

    fn whole(mut self) -> Result<Vec<Question>, NoForm> {
        for part in &self.wanted.scheme.parts {
            let count = self.fill(part);
            if count < part.questions {
                return Err(NoForm::TooFew {
                    competence: part.competence.clone(),
                    wanted: part.questions,
                    found: count,
                });
            }
        }
        self.draws.shuffle(&mut self.found);
        Ok(self.found.into_iter().flatten().collect())
    }

    /// Draws one part's questions and says how many there are: every template once before any comes twice, levels in turn,
    /// machines in turn. A case that is too long for what is left is passed over, never cut.
    fn fill(&mut self, part: &Part) -> usize {
        let bank = self.bank;
        let mut templates: Vec<_> =
            bank.templates().filter(|entry| entry.template.competence == part.competence).collect();
        self.draws.shuffle(&mut templates);
        levels_in_turn(&mut templates, |entry| entry.template.level);
        let mut left = part.questions;
        for _round in 0..self.machines.len() {
            for entry in &templates {
                if left == 0 {
                    return part.questions;
                }
                if entry.template.part_count() > left {
                    continue;
                }
                for machine in self.least_used_first() {
                    if entry.template.fits(&machine.profile.id)
                        && let Some(questions) = self.another(entry, machine)
                    {
                        left -= questions.len();
                        self.found.push(questions);
                        break;
                    }
                }
            }
        }
        part.questions - left
    }

    fn least_used_first(&mut self) -> Vec<&'a Machine> {
        let Self { draws, machines, found, .. } = self;
        draws.shuffle(machines);
        let uses = |machine: &Machine| {
            found.iter().flatten().filter(|question| question.source.machine == machine.profile.id).count()
        };
        machines.sort_by_key(|machine| uses(machine));
        machines.clone()
    }

    /// A question, or a case, of a template on a machine that is like nothing in the form and like nothing seen.
    fn another(&mut self, entry: &TemplateEntry, machine: &Machine) -> Option<Vec<Question>> {
        for _ in 0..TRIES {
            let seed = Seed { secret: self.wanted.secret, stream: self.stream };
            let questions = generate_all(&entry.template, entry.version, machine, seed, self.wanted.unit).ok()?;
            self.stream += 1;
            let alike = |question: &Question| {
                self.found.iter().flatten().any(|other| other.looks_like(question))
                    || self.wanted.seen.iter().any(|seen| seen.asks_again(question))
            };
            if !questions.iter().any(alike) {
                return Some(questions);
            }
        }
        None
    }
}

/// Reorders so that levels alternate: 1, 2, 3, 1, 2, 3 as long as there are any.
fn levels_in_turn<T>(items: &mut Vec<T>, level: impl Fn(&T) -> u8) {
    let mut seen = [0usize; 256];
    let mut keyed: Vec<(usize, T)> = items
        .drain(..)
        .map(|item| {
            let count = &mut seen[usize::from(level(&item))];
            *count += 1;
            (*count, item)
        })
        .collect();
    keyed.sort_by_key(|(turn, _)| *turn);
    items.extend(keyed.into_iter().map(|(_, item)| item));
}
