//! Watching a practical task: opened for a person, a task and a machine, and marked step by step.
//!
//! Never opens one by the candidate's own hand or for another branch, and never touches one that was signed. What was refused
//! is on record where somebody tried what must not be.

use super::load_bank::sha256;
use super::{ActionError, Deeds};
use crate::domain::aftertreatment::MODEL_VERSION;
use crate::domain::examination::observation::{Marked, Task, make};
use crate::domain::people::{Permission, allows};
use crate::domain::units::Moment;
use crate::store::observations::{self, NewObservation, Observation};
use crate::store::record::{self, NewEntry};
use crate::store::{BranchId, ObservationId, PersonId, StoreError, conflict, people, write};
use sea_orm::ConnectionTrait;
use serde_json::{Value, json};

/// Who watches.
#[derive(Clone, Copy, Debug)]
pub struct Assessor {
    /// Who.
    pub person: PersonId,
    /// Their branch, the only one where they watch.
    pub branch: BranchId,
}

/// What is to be watched.
#[derive(Clone, Copy, Debug)]
pub struct ToWatch<'w> {
    /// Whom.
    pub person: PersonId,
    /// Doing what.
    pub task: Task,
    /// On which machine, by its word.
    pub machine: &'w str,
    /// What the form carried: the same again is the same click.
    pub key: &'w str,
}

/// What comes of opening.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opened {
    /// It is open, since now or by the same click before.
    Open(ObservationId),
    /// Nobody watches themselves. It is on record that somebody tried.
    OwnHand,
    /// The branch has nobody of that number who could be watched.
    NoSuchPerson,
    /// The bank has no such machine.
    NoSuchMachine,
}

/// Opens an observation; its checklist is made now and never again.
///
/// # Errors
/// When the store does not answer.
pub async fn open_observation(deeds: &Deeds, by: Assessor, what: ToWatch<'_>) -> Result<Opened, ActionError> {
    if what.person == by.person {
        refuse(deeds, by.person, About::Person(what.person), Refused::OwnHand).await?;
        return Ok(Opened::OwnHand);
    }
    let read = deeds.bank.now();
    let Some(machine) = read.bank.machine(what.machine) else { return Ok(Opened::NoSuchMachine) };
    let checklist = serde_json::to_string(&make(what.task, &machine.profile))
        .map_err(|error| StoreError::Corrupt(format!("a checklist cannot be written: {error}")))?;
    let now = deeds.clock.now();
    let new = NewObservation {
        person_id: what.person,
        assessor_id: by.person,
        branch_id: by.branch,
        task: what.task,
        machine_key: what.machine.to_owned(),
        machine_version: i32::try_from(machine.version).unwrap_or(i32::MAX),
        model_version: i32::try_from(MODEL_VERSION).unwrap_or(i32::MAX),
        checklist,
        opened_at: now,
        key: what.key.to_owned(),
    };
    let opened = write(&deeds.db, async |tx| {
        if let Some(before) = observations::find_by_key(tx, by.person, what.key).await? {
            return Ok(Opened::Open(before));
        }
        let person = match people::by_id(tx, what.person).await {
            Ok(person) => person,
            Err(StoreError::NotFound) => return Ok(Opened::NoSuchPerson),
            Err(error) => return Err(error.into()),
        };
        let learns = allows(person.role, Permission::SitExaminations) && person.active;
        if person.branch_id != by.branch {
            put_refusal(tx, by.person, About::Person(what.person), Refused::OtherBranch, now).await?;
            return Ok(Opened::NoSuchPerson);
        }
        if !learns {
            return Ok(Opened::NoSuchPerson);
        }
        let detail = json!({
            "person": what.person,
            "task": what.task.id(),
            "machine": what.machine,
            "machine_version": new.machine_version,
            "branch": by.branch,
            "sha256": sha256(&new.checklist),
        });
        let id = observations::insert(tx, new).await?;
        record::append(tx, about(now, by.person, "observation_opened", id, detail)).await?;
        Ok::<_, ActionError>(Opened::Open(id))
    });
    match opened.await {
        Err(ActionError::Store(StoreError::Conflict(which))) if which == conflict::OBSERVATION => {
            let before = observations::find_by_key(&deeds.db, by.person, what.key).await?;
            before.map(Opened::Open).ok_or_else(|| StoreError::NotFound.into())
        }
        other => other,
    }
}

/// What comes of marking a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StepSaved {
    /// It is saved, since this moment.
    Saved(Moment),
    /// Both have signed: nothing changes any more. It is on record that somebody tried.
    Signed,
}

/// Marks a step. It is saved once this returns, not before.
///
/// # Errors
/// [`StoreError::NotFound`] when the assessor has no such observation or it no such step, or when the store does not answer.
pub async fn mark_step(
    deeds: &Deeds,
    by: Assessor,
    id: ObservationId,
    position: i32,
    marked: &Marked,
) -> Result<StepSaved, ActionError> {
    let of = own(deeds, by, id).await?;
    let steps = of.list()?.steps.len();
    if !usize::try_from(position).is_ok_and(|position| (1..=steps).contains(&position)) {
        return Err(StoreError::NotFound.into());
    }
    let now = deeds.clock.now();
    let saved = write(&deeds.db, async |tx| {
        observations::lock_own(tx, by.person, id).await?;
        if observations::find_signed(tx, id).await?.is_some() {
            return Ok(StepSaved::Signed);
        }
        observations::mark(tx, id, position, marked, now).await?;
        Ok::<_, ActionError>(StepSaved::Saved(now))
    })
    .await?;
    if saved == StepSaved::Signed {
        refuse(deeds, by.person, About::Observation(id), Refused::AfterSigning).await?;
    }
    Ok(saved)
}

/// An observation of the assessor's own. Whoever else tries to write in it finds none, and is on record when they are the
/// candidate or of another branch.
pub(super) async fn own(deeds: &Deeds, by: Assessor, id: ObservationId) -> Result<Observation, ActionError> {
    let of = observations::by_id_of_anyone(&deeds.db, id).await?;
    if of.assessor_id == by.person && of.branch_id == by.branch {
        return Ok(of);
    }
    let why = if of.person_id == by.person {
        Refused::OwnHand
    } else if of.branch_id == by.branch {
        Refused::NotTheAssessor
    } else {
        Refused::OtherBranch
    };
    refuse(deeds, by.person, About::Observation(id), why).await?;
    Err(StoreError::NotFound.into())
}

/// What a refusal was about.
#[derive(Clone, Copy, Debug)]
pub(super) enum About {
    Person(PersonId),
    Observation(ObservationId),
}

/// Why something about an observation was refused, as the record says it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Refused {
    OwnHand,
    NotTheAssessor,
    OtherBranch,
    AfterSigning,
    WrongPasswordOfAssessor,
    WrongPasswordOfCandidate,
}

impl Refused {
    const fn word(self) -> &'static str {
        match self {
            Self::OwnHand => "own_hand",
            Self::NotTheAssessor => "not_the_assessor",
            Self::OtherBranch => "other_branch",
            Self::AfterSigning => "after_signing",
            Self::WrongPasswordOfAssessor => "wrong_password_of_assessor",
            Self::WrongPasswordOfCandidate => "wrong_password_of_candidate",
        }
    }
}

/// Puts a refusal on record, once for each person, thing and reason: whoever tries a thousand times does not fill the record.
pub(super) async fn refuse(deeds: &Deeds, by: PersonId, of: About, why: Refused) -> Result<(), ActionError> {
    let now = deeds.clock.now();
    write(&deeds.db, async |tx| put_refusal(tx, by, of, why, now).await).await
}

async fn put_refusal(
    tx: &impl ConnectionTrait,
    by: PersonId,
    of: About,
    why: Refused,
    now: Moment,
) -> Result<(), ActionError> {
    let (kind, id) = match of {
        About::Person(person) => ("person", person.0),
        About::Observation(observation) => ("observation", observation.0),
    };
    let before = record::of_subject(tx, kind, id).await?;
    let same = before.iter().any(|entry| {
        let says: Value = serde_json::from_str(&entry.detail).unwrap_or_default();
        entry.deed == REFUSED && entry.actor_id == Some(by) && says["why"] == why.word()
    });
    if !same {
        let entry = NewEntry {
            at: now,
            actor_id: Some(by),
            deed: REFUSED.to_owned(),
            subject_kind: kind.to_owned(),
            subject_id: Some(id),
            detail: json!({ "why": why.word() }),
        };
        record::append(tx, entry).await?;
    }
    Ok(())
}

const REFUSED: &str = "observation_refused";

pub(super) fn about(at: Moment, by: PersonId, deed: &str, id: ObservationId, detail: Value) -> NewEntry {
    NewEntry {
        at,
        actor_id: Some(by),
        deed: deed.to_owned(),
        subject_kind: "observation".to_owned(),
        subject_id: Some(id.0),
        detail,
    }
}
