//! What a learner was told to do by a day, and how much is overdue, for the first page.

use super::{Line, counted};
use crate::domain::certification::assignment::Progress;
use crate::store::read::assigned::learners;
use crate::store::read::certification;
use crate::store::{assignments, progress as lessons};
use crate::web::App;
use crate::web::error::PageError;
use crate::web::guard::SignedIn;
use crate::web::pages::assignments::progress::{Has, due, place, progress, thing};

/// What this reader has still to do: what is overdue first.
pub(super) async fn own(app: &App, reader: &SignedIn) -> Result<Vec<Line>, PageError> {
    let db = &app.deeds.db;
    let all = assignments::of_person(db, reader.person, reader.branch, reader.role).await?;
    let all: Vec<_> = all.into_iter().filter(|of| of.withdrawn.is_none()).collect();
    if all.is_empty() {
        return Ok(Vec::new());
    }
    let certification = certification::of_person(db, reader.person).await?;
    let read = lessons::lessons_read(db, reader.person).await?;
    let read = read.into_iter().map(|read| (read.module_key, read.lesson_key)).collect();
    let in_use = app.deeds.bank.now();
    let (bank, now) = (&in_use.bank, app.deeds.clock.now());
    let mut lines = Vec::new();
    for of in &all {
        let has = Has { certification: &certification, read: &read, zone: &reader.time_zone };
        let far = progress(bank, of, has, now)?;
        let says = match far {
            Progress::Done => continue,
            Progress::Overdue => format!("Overdue since {}: {}.", due(of), thing(bank, of)),
            Progress::Open => format!("To be done by {}: {}.", due(of), thing(bank, of)),
        };
        lines.push((far, Line::to_do(says, place(of), "Go there")));
    }
    // Stable: by day within each.
    lines.sort_by_key(|(far, _)| *far);
    Ok(lines.into_iter().map(|(_, line)| line).collect())
}

/// How much is overdue among what was assigned; nothing when nothing is.
pub(super) async fn overdue(app: &App) -> Result<Option<Line>, PageError> {
    let db = &app.deeds.db;
    let all = assignments::all(db).await?;
    let all: Vec<_> = all.into_iter().filter(|of| of.withdrawn.is_none()).collect();
    if all.is_empty() {
        return Ok(None);
    }
    let in_use = app.deeds.bank.now();
    let (bank, now) = (&in_use.bank, app.deeds.clock.now());
    let people = learners(db, None, &assignments::modules_of(&all)).await?;
    let mut late = 0;
    for one in &people {
        let has = Has { certification: &one.certification, read: &one.read, zone: &one.time_zone };
        for of in all.iter().filter(|of| of.is_for(one.person_id, one.branch_id, one.role)) {
            late += usize::from(progress(bank, of, has, now)? == Progress::Overdue);
        }
    }
    let says = format!("{} overdue among what you assigned.", counted(late, "thing is", "things are"));
    Ok((late > 0).then(|| Line::to_do(says, "/assignments", "See what")))
}
