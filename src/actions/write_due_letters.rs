//! Writing the letters that are due by the record and the clock: a certificate ends, a refresher is due, an examination waits.
//!
//! Never writes one twice: its key is in the database, and two servers or a restart meet there. Never sends.

use super::{ActionError, Deeds, Token};
use crate::domain::bank::Bank;
use crate::domain::certification::certificate::{Rest, State};
use crate::domain::certification::trigger::REFRESHER_WITHIN_DAYS;
use crate::domain::letters::{EXPIRY_DAYS, Kind, REFRESHER_DAYS, threshold};
use crate::domain::people::{Permission, allows};
use crate::domain::units::Moment;
use crate::mail::letter::About;
use crate::mail::notices::{self, Expiry, Reminder, Waits};
use crate::store::certificates::Certificate;
use crate::store::outbox::{self, NewMail};
use crate::store::read::matrix::{MatrixFilter, MatrixRow, matrix};
use crate::store::{PersonId, branches, letter_choices, write};
use std::collections::{BTreeMap, BTreeSet};

/// A letter that is due, before it is known whether it was written already.
struct Due {
    kind: Kind,
    about: String,
    threshold: i32,
    says: Says,
}

enum Says {
    Ends { scheme: String, number: String, until: Moment },
    Waits { waits: Waits, scheme: String, at: Moment },
}

/// Writes what is due and was not written; gives how many letters.
///
/// # Errors
/// When the store does not answer or a letter cannot be written.
pub async fn write_due_letters(deeds: &Deeds) -> Result<usize, ActionError> {
    let now = deeds.clock.now();
    let in_use = deeds.bank.now();
    let refused = letter_choices::all_refused(&deeds.db).await?;
    let before = outbox::keys_since(&deeds.db, &[Kind::Expiry, Kind::Reminder], Moment(i64::MIN)).await?;
    let zones: BTreeMap<_, _> =
        branches::list(&deeds.db).await?.into_iter().map(|branch| (branch.id, branch.time_zone)).collect();
    let mut count = 0;
    for person in matrix(&deeds.db, &MatrixFilter::default()).await? {
        // Who may not sit examinations any more holds on to nothing that a letter could help with.
        if !allows(person.role, Permission::SitExaminations) {
            continue;
        }
        let zone = zones.get(&person.branch_id).map_or("UTC", String::as_str);
        for due in due_to(&in_use.bank, &person, now) {
            if is_wanted(&refused, &before, person.person_id, &due) {
                count += usize::from(write_one(deeds, &person, zone, due, now).await?);
            }
        }
    }
    if count > 0 {
        deeds.letters.notify_one();
    }
    Ok(count)
}

fn is_wanted(
    refused: &BTreeSet<(PersonId, Kind)>,
    before: &BTreeSet<(PersonId, Kind, String, i32)>,
    person: PersonId,
    due: &Due,
) -> bool {
    !refused.contains(&(person, due.kind)) && !before.contains(&(person, due.kind, due.about.clone(), due.threshold))
}

fn due_to(bank: &Bank, person: &MatrixRow, now: Moment) -> Vec<Due> {
    person.certification.certificates.iter().flat_map(|one| due_about(bank, person, one, now)).collect()
}

/// What is due about one certificate.
fn due_about(bank: &Bank, person: &MatrixRow, one: &Certificate, now: Moment) -> Vec<Due> {
    let key = &one.entry.scheme_key;
    let scheme = bank.scheme(key).map_or_else(|| key.clone(), |entry| entry.scheme.title.clone());
    let state = person.certification.state_of(one, now);
    let mut due = Vec::new();
    if state.stands()
        && let Some(threshold) = threshold(&EXPIRY_DAYS, one.entry.valid_from, one.entry.valid_until, now)
    {
        let until = one.entry.valid_until;
        let says = Says::Ends { scheme: scheme.clone(), number: one.number.to_string(), until };
        due.push(Due { kind: Kind::Expiry, about: format!("certificate {}", one.number), threshold, says });
    }
    match state {
        State::RefresherDue { by, .. } => {
            let since = by.plus_seconds(-REFRESHER_WITHIN_DAYS * 86_400);
            if let Some(threshold) = threshold(&REFRESHER_DAYS, since, by, now) {
                let says = Says::Waits { waits: Waits::Refresher, scheme, at: by };
                let about = format!("refresher {} {}", one.number, by.0);
                due.push(Due { kind: Kind::Reminder, about, threshold, says });
            }
        }
        State::Suspended { since, because: Rest::Trigger(_) | Rest::RefresherOverdue(_) } => {
            let says = Says::Waits { waits: Waits::Sitting, scheme, at: since };
            let about = format!("sitting {} {}", one.number, since.0);
            due.push(Due { kind: Kind::Reminder, about, threshold: 0, says });
        }
        State::Valid
        | State::Suspended { because: Rest::ByDecision, .. }
        | State::Withdrawn { .. }
        | State::Lapsed { .. }
        | State::Renewed { .. } => {}
    }
    due
}

/// Writes one letter with its link; gives whether nobody had written it before.
async fn write_one(deeds: &Deeds, person: &MatrixRow, zone: &str, due: Due, now: Moment) -> Result<bool, ActionError> {
    let secret = Token::fresh()?;
    let stop = format!("{}/letters/stop/{}", deeds.origin, secret.as_str());
    let mail = drawn(deeds, person, zone, &due, &stop, now)?;
    let mail = NewMail {
        person: Some(person.person_id),
        about: Some(due.about),
        threshold: due.threshold,
        unsubscribe_link: Some(stop),
        ..mail
    };
    write(&deeds.db, async |tx| {
        let first = outbox::enqueue(tx, mail.clone()).await?.is_some();
        if first {
            letter_choices::keep_link(tx, &secret.hash(), person.person_id, due.kind, now).await?;
        }
        Ok::<_, ActionError>(first)
    })
    .await
}

fn drawn(
    deeds: &Deeds,
    person: &MatrixRow,
    zone: &str,
    due: &Due,
    stop: &str,
    now: Moment,
) -> Result<NewMail, ActionError> {
    let about = About { to: &person.email, name: &person.display_name, branch_name: &person.branch_name, now };
    let (views, name) = (&deeds.views, person.display_name.as_str());
    let link = &format!("{}/examine", deeds.origin);
    Ok(match &due.says {
        Says::Ends { scheme, number, until } => {
            let days = until.seconds_since(now) / 86_400;
            notices::expiry(views, about, &Expiry { name, scheme, number, until: until.0, zone, days, link, stop })?
        }
        Says::Waits { waits, scheme, at } => {
            let of = Reminder { name, waits: *waits, thing: scheme, at: at.0, zone, link, stop };
            notices::reminder(views, about, &of)?
        }
    })
}
