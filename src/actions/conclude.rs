//! What every hand-in leads to, inside its transaction: grades, outcome, proposal, entries about what was missed, the letter.
//!
//! Grades what was frozen when the examination began, by the scheme's version of then: a later change of the bank
//! changes nobody's result.

use super::begin_examination::on_attempt;
use super::past_bank::PastBank;
use super::propose::{proposal_about, propose_anew};
use super::{ActionError, Deeds};
use crate::domain::bank::Bank;
use crate::domain::examination::outcome::{Graded, Outcome, PartOutcome, conclude};
use crate::domain::examination::scheme::Scheme;
use crate::domain::scenario::Question;
use crate::domain::scenario::grade::{self, Answer};
use crate::domain::scenario::share::Share;
use crate::domain::units::Moment;
use crate::mail::letter::{self, ExaminationResult};
use crate::store::attempts::{self, Attempt, AttemptQuestion, AttemptResult, Grade, Response};
use crate::store::outbox::NewMail;
use crate::store::qualifications::{self, NewQualification, QualificationOutcome};
use crate::store::read::certification;
use crate::store::{PersonId, RecordEntryId, StoreError, branches, outbox, people, proposals, record};
use jiff::{Span, Timestamp, tz::TimeZone};
use sea_orm::ConnectionTrait;

/// Grades a closed examination and puts it on record. `by` is who handed it in; nobody when the clock did.
pub(super) async fn conclude_attempt(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    bank: &Bank,
    attempt: &Attempt,
    by: Option<PersonId>,
    now: Moment,
) -> Result<(), ActionError> {
    // A decision on an earlier sitting is made before this one counts, or knows of it.
    people::in_turn(tx, attempt.person_id).await?;
    let scheme = scheme_of(tx, bank, attempt).await?;
    let questions = attempts::questions(tx, attempt.id).await?;
    let responses = attempts::responses(tx, attempt.id).await?;
    let mut graded = Vec::new();
    let mut grades = Vec::new();
    for asked in &questions {
        let (given, share) = worth_of(asked, &responses)?;
        graded.push(Graded {
            position: u32::try_from(asked.position).unwrap_or_default(),
            competence: asked.question.competence_key.clone(),
            mandatory: asked.question.mandatory,
            share,
        });
        grades.push(given);
    }
    let outcome = conclude(&scheme, &graded);
    let json = serde_json::to_string(&outcome).map_err(|error| StoreError::Corrupt(error.to_string()))?;
    let result =
        AttemptResult { score: outcome.score_percent(), passed: outcome.passed, outcome: json, graded_at: now };
    attempts::store_grades_and_result(tx, attempt.id, &grades, Some(&result)).await?;
    let mut proposal = proposal_about(tx, bank, &scheme, attempt, &outcome, now, now).await?;
    let detail = serde_json::json!({
        "person": attempt.person_id.0,
        "scheme": scheme.id,
        "scheme_version": attempt.scheme_version,
        "right": outcome.right,
        "partly": outcome.partly,
        "asked": outcome.asked,
        "passed": outcome.passed,
        "safety_misses": outcome.safety_misses,
        "proposal": proposal.proposal,
        "machines": proposal.machines,
        "making": attempts::MAKING,
        "sha256": attempts::digest(attempt, &questions, &responses, &grades, &result),
    });
    let entry = record::append(tx, on_attempt(now, by, "examination_graded", attempt.id, detail)).await?;
    proposal.record_entry_id = entry;
    proposals::append(tx, proposal).await?;
    enter_misses(tx, bank, &scheme, attempt, &graded, &outcome, entry, now).await?;
    if !outcome.safety_misses.is_empty() {
        // What was missed now speaks against a certificate on an earlier sitting, too.
        for waiting in certification::of_person(tx, attempt.person_id).await?.waiting {
            propose_anew(tx, bank, &waiting, now).await?;
        }
    }
    tell(deeds, tx, bank, &scheme, attempt, &outcome, now).await
}

/// The scheme by which this attempt was begun, in that version.
pub(super) async fn scheme_of(
    tx: &impl ConnectionTrait,
    bank: &Bank,
    attempt: &Attempt,
) -> Result<Scheme, ActionError> {
    let corrupt = |what: &str| StoreError::Corrupt(format!("attempt {}: {what}", attempt.id));
    let key = attempt.scheme_key.as_deref().ok_or_else(|| corrupt("an examination without a scheme"))?;
    let version = attempt.scheme_version.ok_or_else(|| corrupt("an examination without a scheme's version"))?;
    if let Some(entry) = bank.scheme(key).filter(|entry| i32::try_from(entry.version) == Ok(version)) {
        return Ok(entry.scheme.clone());
    }
    // It may name competences, modules and machines that the bank of now has no more.
    let version = u32::try_from(version).map_err(|_| corrupt("a scheme's version below none"))?;
    PastBank::read(tx).await?.scheme(key, version).map_err(|what| corrupt(&what).into())
}

/// The question as it was frozen.
///
/// # Errors
/// [`StoreError::Corrupt`] when it does not read back.
pub fn read_question(asked: &AttemptQuestion) -> Result<Question, StoreError> {
    serde_json::from_str(&asked.question.json)
        .map_err(|error| StoreError::Corrupt(format!("a frozen question does not read back: {error}")))
}

/// The answer as it was saved.
///
/// # Errors
/// [`StoreError::Corrupt`] when it does not read back.
pub fn read_answer(saved: &Response) -> Result<Answer, StoreError> {
    serde_json::from_str(&saved.answer)
        .map_err(|error| StoreError::Corrupt(format!("a saved answer does not read back: {error}")))
}

/// What an answer is worth, as it is kept.
pub(super) fn worth(position: i32, graded: &grade::Grade) -> Grade {
    Grade {
        position,
        correct: graded.correct,
        points: graded.share.points(),
        misconceptions: graded.misconceptions.clone(),
    }
}

/// What the saved answer to a question is worth; nothing saved is worth nothing.
pub(super) fn worth_of(asked: &AttemptQuestion, responses: &[Response]) -> Result<(Grade, Share), StoreError> {
    let nothing = grade::Grade::of(Share::NOTHING, Vec::new());
    let Some(saved) = responses.iter().find(|response| response.position == asked.position) else {
        return Ok((worth(asked.position, &nothing), nothing.share));
    };
    let graded = grade::grade(&read_question(asked)?, &read_answer(saved)?).unwrap_or(nothing);
    Ok((worth(asked.position, &graded), graded.share))
}

/// Enters what was not passed, at once: a missed safety question counts before anybody has decided. What was passed counts
/// when a certificate is granted.
#[expect(clippy::too_many_arguments, reason = "one step of one deed, split off for its length")]
async fn enter_misses(
    tx: &impl ConnectionTrait,
    bank: &Bank,
    scheme: &Scheme,
    attempt: &Attempt,
    graded: &[Graded],
    outcome: &Outcome,
    entry: RecordEntryId,
    now: Moment,
) -> Result<(), ActionError> {
    if outcome.passed {
        return Ok(());
    }
    for part in &outcome.parts {
        let missed: Vec<String> = graded
            .iter()
            .filter(|question| question.competence == part.competence && question.is_safety_miss())
            .map(|question| question.position.to_string())
            .collect();
        // The rest stays as it was.
        if part.passed {
            continue;
        }
        let new = NewQualification {
            person_id: attempt.person_id,
            competence_key: part.competence.clone(),
            attempt_id: attempt.id,
            outcome: QualificationOutcome::Refused,
            safety_miss: !missed.is_empty(),
            reason: reason_for(bank, part, &missed),
            valid_from: now,
            valid_until: None,
            scheme_key: scheme.id.clone(),
            scheme_version: attempt.scheme_version.unwrap_or_default(),
            record_entry_id: entry,
        };
        qualifications::append(tx, new).await?;
    }
    Ok(())
}

pub(super) fn reason_for(bank: &Bank, part: &PartOutcome, missed: &[String]) -> String {
    let name = bank.competence(&part.competence).map_or(part.competence.as_str(), |competence| &competence.name);
    let right = format!("{} of {} right in {name}", part.earned(), part.asked);
    match missed {
        [] if part.passed => format!("{right}."),
        [] => format!("{right}; {} % are needed.", part.cut_percent),
        [one] => format!("{right}. Mandatory safety question {one} was not answered rightly."),
        several => format!("{right}. Mandatory safety questions {} were not answered rightly.", several.join(", ")),
    }
}

/// The same day some calendar months later, in UTC.
pub(super) fn months_later(now: Moment, months: i64) -> Result<Moment, ActionError> {
    let corrupt = |error: jiff::Error| StoreError::Corrupt(format!("a validity of {months} months: {error}"));
    let from = Timestamp::from_microsecond(now.0).map_err(corrupt)?.to_zoned_datetime(TimeZone::UTC);
    let until = from.checked_add(Span::new().months(months)).map_err(corrupt)?;
    Ok(Moment(until.timestamp().as_microsecond()))
}

async fn tell(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    bank: &Bank,
    scheme: &Scheme,
    attempt: &Attempt,
    outcome: &Outcome,
    now: Moment,
) -> Result<(), ActionError> {
    let person = people::by_id(tx, attempt.person_id).await?;
    let branch = branches::by_id(tx, person.branch_id).await?;
    let missed = |part: &&PartOutcome| {
        bank.competence(&part.competence).is_some_and(|competence| competence.mandatory) && part.right < part.asked
    };
    let safety_misses: Vec<String> = outcome
        .parts
        .iter()
        .filter(missed)
        .filter_map(|part| bank.competence(&part.competence))
        .map(|competence| competence.name.clone())
        .collect();
    let result = ExaminationResult {
        name: &person.display_name,
        branch_name: &branch.name,
        scheme: &scheme.title,
        passed: outcome.passed,
        score: &format!("{} of {}", outcome.earned(), outcome.asked),
        safety_misses: &safety_misses,
        at: now.0,
        zone: &branch.time_zone,
        link: &format!("{}/examine/sitting/{}/result", deeds.origin, attempt.id),
    };
    let mail = letter::examination_result(&deeds.views, &person.email, &result, now)?;
    let about = Some(format!("attempt {}", attempt.id));
    outbox::enqueue(tx, NewMail { person: Some(person.id), about, ..mail }).await?;
    Ok(())
}
