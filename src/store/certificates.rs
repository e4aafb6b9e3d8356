//! Certificates, what they are for, and what was done to them.
//!
//! Never changes or removes one, and the database refuses both. Its number is made of the year and the next running number,
//! under the lock of the record's end: append to the record first.

use super::columns::{from_word, word};
use super::entity::{certificate, certificate_event, certificate_machine};
use super::{AttemptId, CertificateId, PersonId, ProposalId, RecordEntryId, StoreError, columns::Ts};
use crate::domain::certification::certificate::{Event, EventKind, Number};
use crate::domain::certification::trigger::MachineVersion;
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, prelude::*};

/// What is needed to issue one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewCertificate {
    /// On which sitting.
    pub attempt_id: AttemptId,
    /// On which proposal, which proposed to grant it.
    pub proposal_id: ProposalId,
    /// Who holds it.
    pub person_id: PersonId,
    /// By which scheme.
    pub scheme_key: String,
    /// In which version.
    pub scheme_version: i32,
    /// The year in which it is granted, for its number.
    pub year: i32,
    /// When the sitting was graded.
    pub examined_at: Moment,
    /// From when it is valid.
    pub valid_from: Moment,
    /// Until when.
    pub valid_until: Moment,
    /// The machines that it is for, with the versions of their profiles.
    pub machines: Vec<MachineVersion>,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

/// A certificate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Certificate {
    /// Which row.
    pub id: CertificateId,
    /// Its number.
    pub number: Number,
    /// What it says.
    pub entry: NewCertificate,
    /// What was done to it, oldest first.
    pub events: Vec<KeptEvent>,
}

/// Something that was done to a certificate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptEvent {
    /// What, and when.
    pub event: Event,
    /// Why, in words.
    pub reason: String,
    /// Who did it; nobody when it followed from something else.
    pub done_by: Option<PersonId>,
    /// The entry of the record that tells of it.
    pub record_entry_id: RecordEntryId,
}

/// Issues a certificate with the next number of its year.
///
/// # Errors
/// A conflict when this sitting has led to one already.
pub async fn issue(db: &impl ConnectionTrait, new: NewCertificate) -> Result<(CertificateId, Number), StoreError> {
    let of_year = certificate::Entity::find().filter(certificate::Column::Year.eq(new.year));
    let last = of_year.order_by_desc(certificate::Column::Running).one(db).await?;
    let running = last.map_or(0, |last| last.running) + 1;
    let row = certificate::ActiveModel {
        attempt_id: Set(new.attempt_id),
        proposal_id: Set(new.proposal_id),
        proposes: Set("grant".to_owned()),
        person_id: Set(new.person_id),
        scheme_key: Set(new.scheme_key),
        scheme_version: Set(new.scheme_version),
        year: Set(new.year),
        running: Set(running),
        examined_at: Set(new.examined_at.into()),
        valid_from: Set(new.valid_from.into()),
        valid_until: Set(new.valid_until.into()),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    let id = certificate::Entity::insert(row).exec(db).await?.last_insert_id;
    let machines = new.machines.into_iter().map(|on| certificate_machine::ActiveModel {
        certificate_id: Set(id),
        machine_key: Set(on.machine),
        machine_version: Set(on.version),
    });
    let machines: Vec<_> = machines.collect();
    if !machines.is_empty() {
        certificate_machine::Entity::insert_many(machines).exec_without_returning(db).await?;
    }
    Ok((id, Number { year: new.year, running }))
}

/// Adds what was done to a certificate.
///
/// # Errors
/// Those of every write.
pub async fn append_event(db: &impl ConnectionTrait, id: CertificateId, new: KeptEvent) -> Result<(), StoreError> {
    let row = certificate_event::ActiveModel {
        certificate_id: Set(id),
        kind: Set(word(new.event.kind)),
        reason: Set(new.reason),
        done_by: Set(new.done_by),
        at: Set(new.event.at.into()),
        record_entry_id: Set(new.record_entry_id),
        ..Default::default()
    };
    certificate_event::Entity::insert(row).exec_without_returning(db).await?;
    Ok(())
}

/// A certificate by its number.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn by_number(db: &impl ConnectionTrait, number: Number) -> Result<Certificate, StoreError> {
    let wanted = certificate::Entity::find()
        .filter(certificate::Column::Year.eq(number.year))
        .filter(certificate::Column::Running.eq(number.running));
    one(db, wanted.one(db).await?).await?.ok_or(StoreError::NotFound)
}

/// A certificate by its row.
///
/// # Errors
/// [`StoreError::NotFound`] when there is none.
pub async fn by_id(db: &impl ConnectionTrait, id: CertificateId) -> Result<Certificate, StoreError> {
    one(db, certificate::Entity::find_by_id(id).one(db).await?).await?.ok_or(StoreError::NotFound)
}

/// The certificate that a sitting led to, if it did.
///
/// # Errors
/// Those of every query.
pub async fn find_of_attempt(db: &impl ConnectionTrait, attempt: AttemptId) -> Result<Option<Certificate>, StoreError> {
    let row = certificate::Entity::find().filter(certificate::Column::AttemptId.eq(attempt)).one(db).await?;
    one(db, row).await
}

async fn one(db: &impl ConnectionTrait, row: Option<certificate::Model>) -> Result<Option<Certificate>, StoreError> {
    Ok(whole(db, row.into_iter().collect()).await?.pop())
}

/// A person's certificates, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn of_person(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Certificate>, StoreError> {
    let own = certificate::Entity::find().filter(certificate::Column::PersonId.eq(person));
    whole(db, own.order_by_asc(certificate::Column::Id).all(db).await?).await
}

/// The rows with their machines and events: two queries.
async fn whole(db: &impl ConnectionTrait, rows: Vec<certificate::Model>) -> Result<Vec<Certificate>, StoreError> {
    if rows.is_empty() {
        return Ok(Vec::new());
    }
    let ids: Vec<CertificateId> = rows.iter().map(|row| row.id).collect();
    let machines = certificate_machine::Entity::find()
        .filter(certificate_machine::Column::CertificateId.is_in(ids.clone()))
        .order_by_asc(certificate_machine::Column::MachineKey)
        .all(db)
        .await?;
    let events = certificate_event::Entity::find()
        .filter(certificate_event::Column::CertificateId.is_in(ids))
        .order_by_asc(certificate_event::Column::Id)
        .all(db)
        .await?;
    assemble(rows, machines, events)
}

/// Puts certificates together with their machines and events.
pub(super) fn assemble(
    rows: Vec<certificate::Model>,
    machines: Vec<certificate_machine::Model>,
    events: Vec<certificate_event::Model>,
) -> Result<Vec<Certificate>, StoreError> {
    let mut all: std::collections::BTreeMap<CertificateId, Certificate> =
        rows.into_iter().map(|row| (row.id, Certificate::from(row))).collect();
    for row in machines {
        if let Some(of) = all.get_mut(&row.certificate_id) {
            of.entry.machines.push(MachineVersion { machine: row.machine_key, version: row.machine_version });
        }
    }
    for row in events {
        if let Some(of) = all.get_mut(&row.certificate_id) {
            of.events.push(row.try_into()?);
        }
    }
    Ok(all.into_values().collect())
}

impl From<certificate::Model> for Certificate {
    fn from(row: certificate::Model) -> Self {
        Self {
            id: row.id,
            number: Number { year: row.year, running: row.running },
            entry: NewCertificate {
                attempt_id: row.attempt_id,
                proposal_id: row.proposal_id,
                person_id: row.person_id,
                scheme_key: row.scheme_key,
                scheme_version: row.scheme_version,
                year: row.year,
                examined_at: row.examined_at.into(),
                valid_from: row.valid_from.into(),
                valid_until: row.valid_until.into(),
                machines: Vec::new(),
                record_entry_id: row.record_entry_id,
            },
            events: Vec::new(),
        }
    }
}

impl TryFrom<certificate_event::Model> for KeptEvent {
    type Error = StoreError;

    fn try_from(row: certificate_event::Model) -> Result<Self, StoreError> {
        let kind: EventKind = from_word("certificate_event.kind", &row.kind)?;
        let Ts(at) = row.at;
        Ok(Self {
            event: Event { kind, at: Moment(at) },
            reason: row.reason,
            done_by: row.done_by,
            record_entry_id: row.record_entry_id,
        })
    }
}
