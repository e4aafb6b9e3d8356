//! Getting the next question of practice: made, frozen and kept before it is shown. Of a case every part is kept at once, so
//! that it stays one case whatever becomes of the bank.

use super::begin_examination::{asked_before, frozen};
use super::{ActionError, Deeds};
use crate::domain::examination::practice::questions_unlike;
use crate::domain::units::TemperatureUnit;
use crate::store::attempts::{self, AttemptKind, NewAttempt};
use crate::store::{AttemptId, PersonId, people, write};

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum Asked {
    /// The question stands in this attempt at this position.
    Question(AttemptId, i32),
    /// There is no such module, or the bank has no question for it.
    NothingToAsk,
}

/// Gives a person the next question of a module: the one that waits for its answer, or a new one.
///
/// # Errors
/// When the store does not answer.
pub async fn ask_practice_question(
    deeds: &Deeds,
    person: PersonId,
    unit: TemperatureUnit,
    module: &str,
) -> Result<Asked, ActionError> {
    let read = deeds.bank.now();
    let Some(module) = read.bank.module(module) else { return Ok(Asked::NothingToAsk) };
    let seed = deeds.seeds.fresh()?;
    let now = deeds.clock.now();
    // Read before the transaction, because much of it has to be read and everybody's answers queue for one writer.
    let read_after = attempts::count_asked(&deeds.db, person).await?;
    let examined = asked_before(&deeds.db, person, AttemptKind::Examination).await?;
    write(&deeds.db, async |tx| {
        // Of two clicks the second finds the question of the first.
        people::in_turn(tx, person).await?;
        let open = attempts::find_open_practice(tx, person, &module.id).await?;
        let (attempt, seed) = match open {
            Some(open) if open.temperature_unit == unit => (open.id, open.seed),
            _ => {
                let new = NewAttempt {
                    person_id: person,
                    kind: AttemptKind::Practice,
                    scheme_key: None,
                    scheme_version: None,
                    module_key: Some(module.id.clone()),
                    seed,
                    temperature_unit: unit,
                    started_at: now,
                    deadline_at: None,
                };
                (attempts::open_attempt(tx, new, Vec::new()).await?, seed)
            }
        };
        let asked = attempts::questions(tx, attempt).await?;
        let graded = attempts::grades(tx, attempt).await?;
        if let Some(waiting) = asked.iter().find(|asked| graded.iter().all(|grade| grade.position != asked.position)) {
            return Ok(Asked::Question(attempt, waiting.position));
        }
        let turn = asked.iter().filter(|asked| !asked.question.follows()).count() + 1;
        // What an examination asked is never practised. One may have begun since this was read.
        let examined = if attempts::count_asked(tx, person).await? == read_after {
            examined
        } else {
            asked_before(tx, person, AttemptKind::Examination).await?
        };
        let turn = u32::try_from(turn).unwrap_or_default();
        let made = questions_unlike(&examined, &read.bank, module, seed, turn, unit);
        let mut first = None;
        for question in made.unwrap_or_default() {
            let position = attempts::append_question(tx, person, attempt, frozen(&question)).await?;
            first.get_or_insert(position);
        }
        Ok(first.map_or(Asked::NothingToAsk, |position| Asked::Question(attempt, position)))
    })
    .await
}
