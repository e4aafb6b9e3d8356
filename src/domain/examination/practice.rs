//! Which question comes next in practice, or which case with all its questions.
//!
//! Every template of the module's competences comes once before any comes twice. Practice has a seed of its own and
//! never shares one with an examination; even of one seed the streams would be others. Never asks what the person was asked
//! in an examination.

use crate::bank::{Bank, Module, TemplateEntry};
use crate::scenario::Question;
use crate::scenario::draw::Draws;
use crate::scenario::generate::{Machine, Seed, generate_all};
use crate::units::TemperatureUnit;

/// The stream that orders the templates of each round.
const ORDER_STREAM: u64 = 1 << 40;
/// Where the streams of questions begin; each uses its turn from here. No form of an examination draws from there.
const QUESTION_STREAMS: u64 = 1 << 62;
/// Draws of one template on one machine, until one is unlike what was asked in examinations; chosen by us.
const TRIES: u64 = 8;

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
    questions_unlike(&[], bank, module, secret, turn, unit)
}

/// The same for somebody who was `examined` in these questions, which are not asked again.
#[must_use]
pub fn questions_unlike(
    examined: &[Question],
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
    // A template that gives no question, or none that is new, is passed over, not a reason to stop.
    templates.iter().cycle().skip(place % count).take(count).find_map(|entry| {
        draws.shuffle(&mut machines);
        machines.iter().flat_map(|machine| (0..TRIES).map(move |nth| (machine, nth))).find_map(|(machine, nth)| {
            let stream = QUESTION_STREAMS + (nth << 32) + u64::from(turn);
            let made = generate_all(&entry.template, entry.version, machine, Seed { secret, stream }, unit).ok()?;
            let known = made.iter().any(|question| examined.iter().any(|asked| asked.asks_again(question)));
            (!known).then_some(made)
        })
    })
}
