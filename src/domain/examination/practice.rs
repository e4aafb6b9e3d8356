//! Which question comes next in practice, or which case with all its questions.
//!
//! Every template of the module's competences comes once before any comes twice. Practice has a seed of its own and
//! never shares one with an examination.

use crate::bank::{Bank, Module, TemplateEntry};
use crate::scenario::Question;
use crate::scenario::draw::Draws;
use crate::scenario::generate::{Machine, Seed, generate_all};
use crate::units::TemperatureUnit;

/// The stream that orders the templates of each round; questions use their turn.
const ORDER_STREAM: u64 = 1 << 40;

/// The question of a turn (from 1) of somebody's practice, or of a case every part in order; nothing when the bank has none
/// for the module.
#[must_use]
pub fn questions_at(
    bank: &Bank,
    module: &Module,
    secret: [u8; 32],
    turn: u32,
    unit: TemperatureUnit,
) -> Option<Vec<Question>> {
    let suits = |entry: &&TemplateEntry| module.competences.contains(&entry.template.competence);
    let mut templates: Vec<&TemplateEntry> = bank.templates().filter(suits).collect();
    let count = templates.len();
    let place = usize::try_from(turn.checked_sub(1)?).ok()?;
    let round = place.checked_div(count)?;
    let mut draws = Draws::new(secret, ORDER_STREAM + round as u64);
    draws.shuffle(&mut templates);
    let mut machines: Vec<&Machine> = bank.machines().collect();
    // A template that happens to give no question is passed over, not a reason to stop.
    templates.iter().cycle().skip(place % count).take(count).find_map(|entry| {
        draws.shuffle(&mut machines);
        machines.iter().find_map(|machine| {
            let seed = Seed { secret, stream: u64::from(turn) };
            generate_all(&entry.template, entry.version, machine, seed, unit).ok()
        })
    })
}
