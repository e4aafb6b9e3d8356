//! What is due about somebody's certificates: an end, a refresher, an examination that waits.

use super::letter::Says;
use super::{Due, Look};
use crate::domain::certification::certificate::{Rest, State};
use crate::domain::certification::trigger::REFRESHER_WITHIN_DAYS;
use crate::domain::letters::{EXPIRY_DAYS, Kind, REFRESHER_DAYS, threshold};
use crate::mail::notices::Waits;
use crate::store::certificates::Certificate;
use crate::store::read::assigned::Learner;

pub(super) fn due_to(look: &Look, person: &Learner) -> Vec<Due> {
    person.certification.certificates.iter().flat_map(|one| due_about(look, person, one)).collect()
}

/// What is due about one certificate.
fn due_about(look: &Look, person: &Learner, one: &Certificate) -> Vec<Due> {
    let (key, now) = (&one.entry.scheme_key, look.now);
    let scheme = look.in_use.bank.scheme(key).map_or_else(|| key.clone(), |entry| entry.scheme.title.clone());
    let state = person.certification.state_of(one, now);
    let mut due = Vec::new();
    if state.stands()
        && let Some(threshold) = threshold(&EXPIRY_DAYS, one.entry.valid_from, one.entry.valid_until, now)
    {
        let until = one.entry.valid_until;
        let says = Says::Ends { scheme: scheme.clone(), number: one.number.to_string(), until };
        due.push(Due { kind: Kind::Expiry, about: format!("certificate {}", one.number), threshold, says });
    }
    let waits = |waits, at| Says::Waits { waits, thing: scheme.clone(), at, place: "/examine".to_owned() };
    match state {
        State::RefresherDue { by, .. } => {
            let since = by.plus_seconds(-REFRESHER_WITHIN_DAYS * 86_400);
            if let Some(threshold) = threshold(&REFRESHER_DAYS, since, by, now) {
                let about = format!("refresher {} {}", one.number, by.0);
                due.push(Due { kind: Kind::Reminder, about, threshold, says: waits(Waits::Refresher, by) });
            }
        }
        State::Suspended { since, because: Rest::Trigger(_) | Rest::RefresherOverdue(_) } => {
            let about = format!("sitting {} {}", one.number, since.0);
            due.push(Due { kind: Kind::Reminder, about, threshold: 0, says: waits(Waits::Sitting, since) });
        }
        State::Valid
        | State::Suspended { because: Rest::ByDecision, .. }
        | State::Withdrawn { .. }
        | State::Lapsed { .. }
        | State::Renewed { .. } => {}
    }
    due
}
