//! What is due about what somebody is to do by a day: a letter when it is assigned, and again as the day comes near.

use super::letter::Says;
use super::{Due, Look};
use crate::actions::assigned::{Has, due_end, place, progress, thing};
use crate::domain::certification::assignment::Progress;
use crate::domain::letters::{DUE_DAY_DAYS, Kind, threshold};
use crate::domain::units::Moment;
use crate::mail::notices::Waits;
use crate::store::StoreError;
use crate::store::assignments::Assignment;
use crate::store::read::assigned::Learner;

pub(super) fn due_to(look: &Look, person: &Learner) -> Result<Vec<Due>, StoreError> {
    let theirs = look.assigned.iter().filter(|of| of.is_for(person.person_id, person.branch_id, person.role));
    let mut due = Vec::new();
    for of in theirs {
        due.extend(due_about(look, person, of)?);
    }
    Ok(due)
}

/// What is due about one assignment: nothing when it is done or its day is over.
fn due_about(look: &Look, person: &Learner, of: &Assignment) -> Result<Option<Due>, StoreError> {
    let (bank, now) = (&look.in_use.bank, look.now);
    let has = Has { certification: &person.certification, read: &person.read, zone: &person.time_zone };
    if progress(bank, of, has, now)? != Progress::Open {
        return Ok(None);
    }
    let end = due_end(of, &person.time_zone)?;
    // The day itself, and not the midnight after it.
    let (at, about) = (Moment(end.0 - 1), format!("assignment {}", of.id));
    let Some(told_at) = look.written(person.person_id, Kind::Assignment, &about, 0) else {
        let says = Says::Assigned { thing: thing(bank, of), due: at, place: place(of) };
        return Ok(Some(Due { kind: Kind::Assignment, about, threshold: 0, says }));
    };
    // Counted from the letter: who came late to a branch is not told twice in an hour.
    let waits = |threshold| {
        let says = Says::Waits { waits: Waits::DueDay, thing: thing(bank, of), at, place: place(of) };
        Due { kind: Kind::Reminder, about, threshold, says }
    };
    Ok(threshold(&DUE_DAY_DAYS, told_at, end, now).map(waits))
}
