//! The letter about what was decided on a certificate, inside the transaction of the decision or the appeal.
//!
//! Never carries the reason of a refusal: that stands on the person's own record page.

use super::{ActionError, Deeds};
use crate::domain::bank::Bank;
use crate::domain::certification::certificate::Number;
use crate::domain::units::Moment;
use crate::mail::letter::About;
use crate::mail::notices::{self, Decision, Granted};
use crate::store::branches;
use crate::store::outbox::{self, NewMail};
use crate::store::people::Person;
use crate::store::proposals::KeptProposal;
use sea_orm::ConnectionTrait;

/// On which occasion: each is told of once.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Occasion {
    /// The decision after a sitting.
    Decision,
    /// The decision on an appeal.
    Appeal,
}

/// What was decided: on which occasion, and the certificate when one was granted.
#[derive(Clone, Copy)]
pub(super) struct What {
    pub(super) on: Occasion,
    pub(super) number: Option<Number>,
}

/// Puts the letter into the outbox.
pub(super) async fn tell_decision(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    bank: &Bank,
    person: &Person,
    kept: &KeptProposal,
    what: What,
    now: Moment,
) -> Result<(), ActionError> {
    let (of, branch) = (&kept.entry, branches::by_id(tx, person.branch_id).await?);
    let scheme = bank.scheme(&of.scheme_key).map_or(of.scheme_key.as_str(), |entry| &entry.scheme.title);
    let competences =
        of.competences.iter().map(|key| bank.competence(key).map_or_else(|| key.clone(), |found| found.name.clone()));
    let machines = of.machines.iter().map(|on| format!("machine {}", on.machine));
    let scope: Vec<String> = competences.chain(machines).collect();
    let printed = what.number.map(|number| number.to_string());
    let certificate = printed.as_deref().map(|number| Granted { number, until: of.valid_until.0, scope: &scope });
    let link = match &printed {
        Some(number) => format!("{}/record/certificates/{number}", deeds.origin),
        None => format!("{}/record/sitting/{}", deeds.origin, of.attempt_id),
    };
    let about = About { to: &person.email, name: &person.display_name, branch_name: &branch.name, now };
    let (name, zone, appeal) = (&person.display_name, &branch.time_zone, what.on == Occasion::Appeal);
    let says = Decision { name, scheme, appeal, certificate, zone, link: &link };
    let mail = notices::decision(&deeds.views, about, &says)?;
    let occasion = if appeal { "appeal" } else { "decision" };
    let about = Some(format!("{occasion} attempt {}", of.attempt_id));
    outbox::enqueue(tx, NewMail { person: Some(person.id), about, ..mail }).await?;
    Ok(())
}
