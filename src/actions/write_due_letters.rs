//! Writing the letters that are due by the record and the clock: a certificate ends, a refresher is due, an examination waits,
//! something is assigned or its day comes near, a week of a branch begins.
//!
//! Never writes one twice: its key is in the database, and two servers or a restart meet there. Never sends.

mod assignments;
mod certificates;
mod letter;
mod week;

use super::bank_in_use::ReadBank;
use super::{ActionError, Deeds, Token};
use crate::domain::letters::Kind;
use crate::domain::units::Moment;
use crate::store::assignments::{self as kept, Assignment};
use crate::store::outbox::{self, NewMail};
use crate::store::read::assigned::{Learner, learners};
use crate::store::read::decisions::{DecisionLine, lines};
use crate::store::read::service_managers::service_managers;
use crate::store::{PersonId, letter_choices, write};
use letter::{Says, To, drawn};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// A letter that is due, before it is known whether it was written already.
struct Due {
    kind: Kind,
    about: String,
    threshold: i32,
    says: Says,
}

/// What one look at the record and the clock found: the same for everybody.
struct Look {
    now: Moment,
    in_use: Arc<ReadBank>,
    /// Which letters people do not want.
    refused: BTreeSet<(PersonId, Kind)>,
    /// The keys of the letters that were written, and when.
    written: BTreeMap<(PersonId, Kind, String, i32), Moment>,
    /// The assignments that count.
    assigned: Vec<Assignment>,
    learners: Vec<Learner>,
    decisions: Vec<DecisionLine>,
}

impl Look {
    async fn at(deeds: &Deeds) -> Result<Self, ActionError> {
        let db = &deeds.db;
        let mut assigned = kept::all(db).await?;
        assigned.retain(|of| of.withdrawn.is_none());
        Ok(Self {
            now: deeds.clock.now(),
            in_use: deeds.bank.now(),
            refused: letter_choices::all_refused(db).await?,
            written: outbox::keys(db, &[Kind::Assignment, Kind::Expiry, Kind::Reminder, Kind::Digest]).await?,
            learners: learners(db, None, &kept::modules_of(&assigned)).await?,
            decisions: lines(db, None).await?,
            assigned,
        })
    }

    /// When this letter was written to somebody; nothing when it was not.
    fn written(&self, person: PersonId, kind: Kind, about: &str, threshold: i32) -> Option<Moment> {
        self.written.get(&(person, kind, about.to_owned(), threshold)).copied()
    }

    fn is_wanted(&self, person: PersonId, due: &Due) -> bool {
        let known = self.written(person, due.kind, &due.about, due.threshold).is_some();
        !(known || due.kind.may_be_refused() && self.refused.contains(&(person, due.kind)))
    }
}

/// Writes what is due and was not written; gives how many letters.
///
/// # Errors
/// When the store does not answer or a letter cannot be written.
pub async fn write_due_letters(deeds: &Deeds) -> Result<usize, ActionError> {
    let look = Look::at(deeds).await?;
    let mut count = 0;
    for person in &look.learners {
        let mut due = certificates::due_to(&look, person);
        due.extend(assignments::due_to(&look, person)?);
        for one in due.into_iter().filter(|one| look.is_wanted(person.person_id, one)) {
            count += usize::from(write_one(deeds, To::from(person), one, look.now).await?);
        }
    }
    for manager in service_managers(&deeds.db).await? {
        let due = week::due_to(&look, &manager)?.filter(|one| look.is_wanted(manager.person_id, one));
        if let Some(one) = due {
            count += usize::from(write_one(deeds, To::from(&manager), one, look.now).await?);
        }
    }
    if count > 0 {
        deeds.letters.notify_one();
    }
    Ok(count)
}

/// Writes one letter, with its link when it may be refused; gives whether nobody had written it before.
async fn write_one(deeds: &Deeds, to: To<'_>, due: Due, now: Moment) -> Result<bool, ActionError> {
    let secret = due.kind.may_be_refused().then(Token::fresh).transpose()?;
    let stop = secret.as_ref().map(|secret| format!("{}/letters/stop/{}", deeds.origin, secret.as_str()));
    let mail = NewMail {
        person: Some(to.person),
        about: Some(due.about),
        threshold: due.threshold,
        unsubscribe_link: stop.clone(),
        ..drawn(deeds, to, &due.says, stop.as_deref().unwrap_or_default(), now)?
    };
    write(&deeds.db, async |tx| {
        let first = outbox::enqueue(tx, mail.clone()).await?.is_some();
        if let (true, Some(secret)) = (first, &secret) {
            letter_choices::keep_link(tx, &secret.hash(), to.person, due.kind, now).await?;
        }
        Ok::<_, ActionError>(first)
    })
    .await
}
