//! All there is about one person, as one JSON object, for whoever has a right to it.
//!
//! Never holds what opens something (a password's hash, tokens, seeds) nor the key of a question; of open examinations
//! it holds the questions as they were shown.

mod certified;
mod observed;

use super::conclude::read_question;
use crate::domain::people::EmailAddress;
use crate::domain::units::Moment;
use crate::store::attempts::{self, Attempt, AttemptKind, AttemptState};
use crate::store::read::record_head::record_head;
use crate::store::record::{self, RecordEntry};
use crate::store::{
    AttemptId, PersonId, StoreError, access_keys, assignments, bank_documents, branches, calendar_feeds, debriefs,
    extra_times, incidents, invitations, letter_choices, named_trainers, observations, one_time_codes, outbox, people,
    progress, qualifications, sessions, template_drafts,
};
use jiff::Timestamp;
use sea_orm::ConnectionTrait;
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// What an export is, in its field `format`.
pub const FORMAT: &str = "sootmark person 1";

/// Everything about the person of an address; nothing when nobody has it.
///
/// # Errors
/// When the store does not answer.
pub async fn export_person(db: &impl ConnectionTrait, email: &EmailAddress) -> Result<Option<Value>, StoreError> {
    let Some(person) = people::find_by_email_norm(db, &email.folded()).await? else { return Ok(None) };
    let own = attempts::of_person(db, person.id).await?;
    let mut sat = Vec::new();
    for attempt in own.iter().rev() {
        sat.push(of_attempt(db, attempt).await?);
    }
    let talks = debriefs::all(db).await?;
    let about = |attempt| own.iter().any(|own| own.id == attempt);
    let talks = talks.iter().filter(|talk| talk.trainer_id == person.id || about(talk.attempt_id));
    let read = progress::lessons_read(db, person.id).await?;
    let decided = qualifications::of_person(db, person.id).await?;
    Ok(Some(json!({
        "format": FORMAT,
        "person": {
            "number": person.id,
            "name": person.display_name,
            "email": person.email,
            "role": person.role.id(),
            "branch": branches::by_id(db, person.branch_id).await?.name,
            "temperature_unit": person.temperature_unit,
            "may_sign_in": person.active,
            "has_password": person.has_password,
            "works_towards": person.scheme_key,
            "known_since": utc(person.created_at),
        },
        "sessions": sessions_of(db, person.id).await?,
        "one_time_codes": codes_of(db, person.id).await?,
        "invitations": invitations_of(db, person.id).await?,
        "lessons_read": read.iter().map(|read| json!({
            "module": read.module_key, "lesson": read.lesson_key, "at": utc(read.read_at),
        })).collect::<Vec<_>>(),
        "attempts": sat,
        "qualifications": decided.iter().rev().map(|found| json!({
            "competence": found.entry.competence_key,
            "outcome": found.entry.outcome == qualifications::QualificationOutcome::Qualified,
            "safety_miss": found.entry.safety_miss,
            "reason": found.entry.reason,
            "valid_from": utc(found.entry.valid_from),
            "valid_until": found.entry.valid_until.map(utc),
            "attempt": found.entry.attempt_id,
            "record_entry": found.entry.record_entry_id,
        })).collect::<Vec<_>>(),
        "decisions": certified::decided(db, &own).await?,
        "certificates": certified::held(db, person.id).await?,
        "asked_for_a_refresher": certified::happened(db, person.id).await?,
        "talks": talks.map(|talk| json!({
            "attempt": talk.attempt_id,
            "held_by": talk.trainer_id,
            "at": utc(talk.held_at),
            "note": talk.note,
        })).collect::<Vec<_>>(),
        "incidents": incidents_in(db, &own).await?,
        "observations": observed::watched(db, person.id).await?,
        "observed_others": observed::others(db, person.id).await?,
        "time_in_examinations": time_of(db, person.id).await?,
        "told_to_do": told_to_do(db, &person).await?,
        "trainers": trainers(db, person.id).await?,
        "opens": opens(db, person.id).await?,
        "letters": outbox::to_address(db, &person.email).await?.iter().map(|mail| json!({
            "kind": mail.kind, "subject": mail.subject, "text": mail.text_body, "written": utc(mail.created_at),
        })).collect::<Vec<_>>(),
        "letters_not_wanted": letter_choices::refused_by(db, person.id).await?.iter().map(|(kind, since)| json!({
            "kind": kind, "since": utc(*since),
        })).collect::<Vec<_>>(),
        "written": written(db, person.id).await?,
        "record_head": record_head(db).await?.hash,
        "record": entries(db, person.id, &own).await?,
    })))
}

async fn sessions_of(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Value>, StoreError> {
    let own = sessions::of_person(db, person).await?;
    let told = own.iter().map(|session| {
        json!({
            "began": utc(session.created_at),
            "last_seen": utc(session.last_seen_at),
            "ends": utc(session.expires_at),
            "on": session.device.id(),
        })
    });
    Ok(told.collect())
}

async fn codes_of(db: &impl ConnectionTrait, person: PersonId) -> Result<Value, StoreError> {
    Ok(json!({
        "set_up": one_time_codes::has_confirmed(db, person).await?,
        "recovery_codes_left": one_time_codes::recovery_left(db, person).await?,
    }))
}

async fn invitations_of(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Value>, StoreError> {
    let own = invitations::of_person(db, person).await?;
    let told = own.iter().map(|(invitation, used)| {
        json!({
            "written": utc(invitation.created_at),
            "ends": utc(invitation.expires_at),
            "used": used.map(utc),
        })
    });
    Ok(told.collect())
}

/// What was written down in the person's sittings.
async fn incidents_in(db: &impl ConnectionTrait, own: &[Attempt]) -> Result<Value, StoreError> {
    let sittings: Vec<AttemptId> = own.iter().map(|own| own.id).collect();
    let written = incidents::of_attempts(db, &sittings).await?.into_iter().map(|incident| {
        json!({
            "attempt": incident.attempt_id,
            "did": incident.kind,
            "text": incident.text,
            "noted_by": incident.noted_by,
            "at": utc(incident.noted_at),
        })
    });
    Ok(written.collect())
}

/// How much more time the person got in examinations, and why.
async fn time_of(db: &impl ConnectionTrait, person: PersonId) -> Result<Value, StoreError> {
    let set = extra_times::of_person(db, person).await?.into_iter().rev().map(
        |set| json!({ "gets": set.extra.words(), "reason": set.reason, "set_by": set.set_by, "at": utc(set.set_at) }),
    );
    Ok(set.collect())
}

/// A moment in UTC, as ISO 8601 writes it.
fn utc(moment: Moment) -> String {
    Timestamp::from_microsecond(moment.0).map(|moment| moment.to_string()).unwrap_or_default()
}

/// What the person, their branch or their role was told to do, and what they told others.
async fn told_to_do(db: &impl ConnectionTrait, person: &people::Person) -> Result<Vec<Value>, StoreError> {
    let all = assignments::all(db).await?;
    let concerns = |of: &&assignments::Assignment| {
        of.is_for(person.id, person.branch_id, person.role) || of.entry.made_by == person.id
    };
    let told = all.iter().filter(concerns).map(|of| {
        json!({
            "number": of.id,
            "kind": of.entry.kind,
            "thing": of.entry.thing_key,
            "due": of.entry.due_day,
            "by": of.entry.made_by,
            "at": utc(of.entry.made_at),
            "withdrawn": of.withdrawn.as_ref().map(|of| json!({ "at": utc(of.at), "reason": of.reason })),
        })
    });
    Ok(told.collect())
}

/// Whom the person trains or trained, and who trains them.
async fn trainers(db: &impl ConnectionTrait, person: PersonId) -> Result<Vec<Value>, StoreError> {
    let all = named_trainers::all(db).await?;
    let own = all.iter().filter(|named| named.person_id == person || named.trainer_id == Some(person));
    let told = own.map(|named| {
        json!({ "person": named.person_id, "trainer": named.trainer_id, "by": named.named_by, "at": utc(named.named_at) })
    });
    Ok(told.collect())
}

/// What the person made that opens something without a password: keys for programs, a calendar's address. Never the secrets.
async fn opens(db: &impl ConnectionTrait, person: PersonId) -> Result<Value, StoreError> {
    let keys = access_keys::all(db).await?;
    let own = keys.iter().filter(|key| key.entry.made_by == person).map(|key| {
        json!({
            "label": key.entry.label,
            "branch": key.entry.branch_id,
            "at": utc(key.entry.made_at),
            "revoked": key.revoked_at.map(utc),
        })
    });
    Ok(json!({
        "access_keys": own.collect::<Vec<_>>(),
        "calendar_address_made": calendar_feeds::find_made_at(db, person).await?.map(utc),
    }))
}

async fn of_attempt(db: &impl ConnectionTrait, attempt: &Attempt) -> Result<Value, StoreError> {
    let responses = attempts::responses(db, attempt.id).await?;
    let grades = attempts::grades(db, attempt.id).await?;
    let flags = attempts::flags(db, attempt.id).await?;
    let mut asked = Vec::new();
    for question in attempts::questions(db, attempt.id).await? {
        let saved = responses.iter().find(|saved| saved.position == question.position);
        let grade = grades.iter().find(|grade| grade.position == question.position);
        asked.push(json!({
            "position": question.position,
            "competence": question.question.competence_key,
            "mandatory": question.question.mandatory,
            "shown": read_question(&question)?.shown,
            "answer": saved.and_then(|saved| serde_json::from_str::<Value>(&saved.answer).ok()),
            "flagged": flags.contains(&question.position),
            "answered": saved.map(|saved| utc(saved.saved_at)),
            "right": grade.map(|grade| grade.correct),
            "points": grade.map(|grade| grade.points),
            "misconceptions": grade.map(|grade| &grade.misconceptions),
        }));
    }
    let result = attempts::find_result(db, attempt.id).await?;
    Ok(json!({
        "number": attempt.id,
        "kind": match attempt.kind {
            AttemptKind::Practice => "practice",
            AttemptKind::Examination => "examination",
        },
        "scheme": attempt.scheme_key,
        "scheme_version": attempt.scheme_version,
        "module": attempt.module_key,
        "state": match attempt.state {
            AttemptState::Open => "open",
            AttemptState::Submitted => "handed in",
            AttemptState::Expired if attempt.ended_by.is_some() => "ended by whoever watched",
            AttemptState::Expired => "handed in by the clock",
        },
        "seconds_more": attempt.extra_s,
        "ended_by": attempt.ended_by,
        "began": utc(attempt.started_at),
        "ended": attempt.submitted_at.map(utc),
        "score_percent": result.as_ref().map(|result| result.score),
        "passed": result.as_ref().map(|result| result.passed),
        "questions": asked,
    }))
}

/// What the person wrote for the question bank.
async fn written(db: &impl ConnectionTrait, person: PersonId) -> Result<Value, StoreError> {
    let documents = bank_documents::every_version(db).await?;
    let own = documents.iter().filter(|document| document.author_id == Some(person));
    let drafts = template_drafts::all_of(db, person).await?;
    Ok(json!({
        "documents": own.map(|document| json!({
            "key": document.key, "version": document.version, "at": utc(document.created_at), "text": document.source,
        })).collect::<Vec<_>>(),
        "drafts": drafts.iter().map(|draft| json!({
            "number": draft.id, "key": draft.key, "text": draft.source, "remark": draft.remark,
        })).collect::<Vec<_>>(),
    }))
}

/// What is on record about the person or their attempts, and what they did themselves, each entry once.
async fn entries(db: &impl ConnectionTrait, person: PersonId, own: &[Attempt]) -> Result<Vec<Value>, StoreError> {
    let mut found: BTreeMap<i64, RecordEntry> = BTreeMap::new();
    let mut all = record::by_actor(db, person).await?;
    all.extend(record::of_subject(db, "person", person.0).await?);
    for attempt in own {
        all.extend(record::of_subject(db, "attempt", attempt.id.0).await?);
    }
    for observed in observations::of_person(db, person).await? {
        all.extend(record::of_subject(db, "observation", observed.id.0).await?);
    }
    found.extend(all.into_iter().map(|entry| (entry.id.0, entry)));
    let entries = found.values().map(|entry| {
        json!({
            "number": entry.id,
            "at": utc(entry.at),
            "by": entry.actor_id,
            "deed": entry.deed,
            "about": entry.subject_kind,
            "about_number": entry.subject_id,
            "detail": serde_json::from_str::<Value>(&entry.detail).unwrap_or_default(),
        })
    });
    Ok(entries.collect())
}
