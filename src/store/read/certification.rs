//! What people's standings follow from beside the entries about their competences: certificates, what happened, and what
//! waits for a decision. Five queries for any number of people.

use crate::domain::certification::certificate::{Course, Event, State};
use crate::domain::certification::proposal::{Openness, Proposes, openness};
use crate::domain::certification::trigger::Trigger;
use crate::domain::units::Moment;
use crate::store::certificates::{Certificate, assemble};
use crate::store::entity::{certificate, certificate_event, certificate_machine, proposal, refresher_trigger};
use crate::store::proposals::KeptProposal;
use crate::store::triggers::KeptTrigger;
use crate::store::{AttemptId, BranchId, PersonId, StoreError};
use sea_orm::{ConnectionTrait, FromQueryResult, Statement};
use std::collections::BTreeMap;

/// One person's certification.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Certification {
    /// Their certificates, oldest first.
    pub certificates: Vec<Certificate>,
    /// What happened, oldest first.
    pub triggers: Vec<KeptTrigger>,
    /// The proposals to grant that nobody has decided on and no later sitting has superseded.
    pub waiting: Vec<KeptProposal>,
}

impl Certification {
    /// The same as it was known at a moment: without what was granted, done or recorded later. What waited then and has been
    /// decided since is not in it.
    #[must_use]
    pub fn as_of(&self, at: Moment) -> Self {
        let known = |certificate: &&Certificate| certificate.entry.valid_from <= at;
        let without_later = |certificate: &Certificate| {
            let events = certificate.events.iter().filter(|kept| kept.event.at <= at);
            Certificate { events: events.cloned().collect(), ..certificate.clone() }
        };
        Self {
            certificates: self.certificates.iter().filter(known).map(without_later).collect(),
            triggers: self.triggers.iter().filter(|kept| kept.entry.trigger.at <= at).cloned().collect(),
            waiting: self.waiting.iter().filter(|kept| kept.entry.made_at <= at).cloned().collect(),
        }
    }

    /// The state of a certificate at a moment.
    #[must_use]
    pub fn state_of(&self, certificate: &Certificate, now: Moment) -> State {
        let events: Vec<Event> = certificate.events.iter().map(|kept| kept.event).collect();
        let triggers: Vec<Trigger> = self.triggers.iter().map(|kept| kept.entry.trigger.clone()).collect();
        let course = Course {
            examined_at: certificate.entry.examined_at,
            valid_until: certificate.entry.valid_until,
            machines: &certificate.entry.machines,
            events: &events,
            triggers: &triggers,
        };
        course.state(now)
    }

    /// The state of the certificate that a sitting led to.
    #[must_use]
    pub fn state_of_attempt(&self, attempt: AttemptId, now: Moment) -> Option<State> {
        let found = self.certificates.iter().find(|certificate| certificate.entry.attempt_id == attempt)?;
        Some(self.state_of(found, now))
    }

    /// Since when a proposal to grant a certificate in a competence waits for its decision.
    #[must_use]
    pub fn waits_for(&self, competence: &str, now: Moment) -> Option<Moment> {
        let waits = |kept: &&KeptProposal| {
            openness(kept.entry.examined_at, false, now) == Openness::Waits
                && kept.entry.competences.iter().any(|of| of == competence)
        };
        self.waiting.iter().find(waits).map(|kept| kept.entry.examined_at)
    }

    /// The schemes by which a certificate stands.
    #[must_use]
    pub fn schemes_held(&self, now: Moment) -> std::collections::BTreeSet<String> {
        let standing = self.certificates.iter().filter(|certificate| self.state_of(certificate, now).stands());
        standing.map(|certificate| certificate.entry.scheme_key.clone()).collect()
    }
}

/// People by number or branch; 0 takes all.
const WHOSE: &str = "EXISTS (SELECT 1 FROM person p WHERE p.id = x.person_id
  AND ($1 = 0 OR p.id = $1) AND ($2 = 0 OR p.branch_id = $2))";

/// A person's certification.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<Certification, StoreError> {
    Ok(certification(db, person.0, 0).await?.remove(&person).unwrap_or_default())
}

/// Everybody's certification, of one branch or of all. Whoever has none is left out.
///
/// # Errors
/// Those of every query.
pub async fn of_everyone(
    db: &impl ConnectionTrait,
    branch: Option<BranchId>,
) -> Result<BTreeMap<PersonId, Certification>, StoreError> {
    certification(db, 0, branch.map_or(0, |branch| branch.0)).await
}

async fn certification(
    db: &impl ConnectionTrait,
    person: i64,
    branch: i64,
) -> Result<BTreeMap<PersonId, Certification>, StoreError> {
    let of = |table: &str, rest: &str| format!("SELECT x.* FROM {table} x WHERE {WHOSE} {rest} ORDER BY x.id");
    let through = |table: &str, order: &str| {
        format!(
            "SELECT e.* FROM {table} e JOIN certificate x ON x.id = e.certificate_id WHERE {WHOSE} ORDER BY {order}"
        )
    };
    let values = || [person.into(), branch.into()];
    let rows = rows::<certificate::Model>(db, &of("certificate", ""), values()).await?;
    let machines =
        self::rows::<certificate_machine::Model>(db, &through("certificate_machine", "e.machine_key"), values())
            .await?;
    let events = self::rows::<certificate_event::Model>(db, &through("certificate_event", "e.id"), values()).await?;
    let triggers = self::rows::<refresher_trigger::Model>(db, &of("refresher_trigger", ""), values()).await?;
    let waiting = self::rows::<proposal::Model>(db, &of("proposal", WAITING), values()).await?;

    let mut all: BTreeMap<PersonId, Certification> = BTreeMap::new();
    for certificate in assemble(rows, machines, events)? {
        all.entry(certificate.entry.person_id).or_default().certificates.push(certificate);
    }
    for row in triggers {
        all.entry(row.person_id).or_default().triggers.push(row.try_into()?);
    }
    for row in waiting {
        let kept = KeptProposal::try_from(row)?;
        if kept.entry.proposal.proposes == Proposes::Grant {
            all.entry(kept.entry.person_id).or_default().waiting.push(kept);
        }
    }
    Ok(all)
}

/// The last proposals that nobody has decided on and no later sitting has superseded.
const WAITING: &str = "AND NOT EXISTS (SELECT 1 FROM decision d WHERE d.attempt_id = x.attempt_id)
  AND NOT EXISTS (SELECT 1 FROM proposal y WHERE y.person_id = x.person_id AND y.scheme_key = x.scheme_key AND y.id > x.id)";

async fn rows<M: FromQueryResult>(
    db: &impl ConnectionTrait,
    sql: &str,
    values: [sea_orm::Value; 2],
) -> Result<Vec<M>, StoreError> {
    let statement = Statement::from_sql_and_values(db.get_database_backend(), sql, values);
    Ok(M::find_by_statement(statement).all(db).await?)
}
