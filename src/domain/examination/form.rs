//! A form: the questions of one sitting, fixed by the scheme and a secret seed.
//!
//! Balanced over levels and machines, the mandatory competences always in it, no two questions of one template on one
//! machine, the parts of a case side by side in their order. Practice and examination never share a seed; that is for whoever makes seeds.

use super::scheme::{Part, Scheme};
use crate::bank::Bank;
use crate::scenario::Question;
use crate::scenario::draw::Draws;
use crate::scenario::generate::{Machine, Seed, generate_all};
use crate::units::TemperatureUnit;

/// The stream that the choice of templates draws from; questions count up from 0.
const CHOICE_STREAM: u64 = u64::MAX;

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
}

/// Assembles the form of a seed.
///
/// # Errors
/// When the bank has too few different questions for a competence.
pub fn assemble(
    bank: &Bank,
    scheme: &Scheme,
    secret: [u8; 32],
    unit: TemperatureUnit,
) -> Result<Vec<Question>, NoForm> {
    let mut draws = Draws::new(secret, CHOICE_STREAM);
    let mut machines: Vec<&Machine> = bank
        .machines()
        .filter(|machine| scheme.machines.is_empty() || scheme.machines.contains(&machine.profile.id))
        .collect();
    // What belongs together: one question, or a case.
    let mut drawn: Vec<Vec<Question>> = Vec::new();
    let mut stream = 0;
    for part in &scheme.parts {
        let found = fill_part(bank, part, &mut machines, &mut draws, &mut stream, secret, unit, &drawn);
        let count = found.iter().map(Vec::len).sum();
        if count < part.questions {
            return Err(NoForm::TooFew { competence: part.competence.clone(), wanted: part.questions, found: count });
        }
        drawn.extend(found);
    }
    draws.shuffle(&mut drawn);
    Ok(drawn.into_iter().flatten().collect())
}

/// Draws one part's questions: every template once before any comes twice, levels in turn, machines in turn. A case that is
/// too long for what is left is passed over, never cut.
#[expect(clippy::too_many_arguments, reason = "one call, split off for its length")]
fn fill_part(
    bank: &Bank,
    part: &Part,
    machines: &mut [&Machine],
    draws: &mut Draws,
    stream: &mut u64,
    secret: [u8; 32],
    unit: TemperatureUnit,
    earlier: &[Vec<Question>],
) -> Vec<Vec<Question>> {
    let mut templates: Vec<_> = bank.templates().filter(|entry| entry.template.competence == part.competence).collect();
    draws.shuffle(&mut templates);
    levels_in_turn(&mut templates, |entry| entry.template.level);
    let mut found: Vec<Vec<Question>> = Vec::new();
    let mut left = part.questions;
    for _round in 0..machines.len() {
        for entry in &templates {
            if left == 0 {
                return found;
            }
            if entry.template.part_count() > left {
                continue;
            }
            draws.shuffle(machines);
            let uses = |machine: &Machine| {
                let asked = earlier.iter().chain(&found).flatten();
                asked.filter(|question| question.source.machine == machine.profile.id).count()
            };
            machines.sort_by_key(|machine| uses(machine));
            for machine in machines.iter().filter(|machine| entry.template.fits(&machine.profile.id)) {
                let seed = Seed { secret, stream: *stream };
                let made = generate_all(&entry.template, entry.version, machine, seed, unit);
                let Ok(questions) = made else { continue };
                let alike = |other: &Question| questions.iter().any(|question| other.looks_like(question));
                if !found.iter().flatten().any(alike) {
                    *stream += 1;
                    left -= questions.len();
                    found.push(questions);
                    break;
                }
            }
        }
    }
    found
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
