//! Beginning an examination: the form is made and frozen, the clock starts.

use super::close_overdue::close_when_over;
use super::invigilate::{CodeRefused, Typed, try_code, under_code};
use super::on_record::about_person_with;
use super::{ActionError, Deeds};
use crate::domain::bank::Bank;
use crate::domain::certification::decision::Finding;
use crate::domain::certification::proposal::{Openness, Proposes, openness};
use crate::domain::examination::difficulty::Answers;
use crate::domain::examination::form::{NoForm, Wanted, assemble_for};
use crate::domain::examination::scheme::Scheme;
use crate::domain::scenario::Question;
use crate::domain::units::{Moment, TemperatureUnit};
use crate::store::attempts::{self, Attempt, AttemptKind, NewAttempt, NewQuestion, Terms};
use crate::store::qualifications::QualificationOutcome;
use crate::store::read::decisions::{self, DecisionLine};
use crate::store::{
    AttemptId, InvigilationId, PersonId, StoreError, debriefs, extra_times, people, progress, qualifications, record,
    write,
};
use sea_orm::ConnectionTrait;
use std::collections::BTreeSet;

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum Begun {
    /// The person sits this attempt now; or sat it already, and goes on.
    Sitting(AttemptId),
    /// Not now.
    NotYet(NotYet),
    /// Somebody watches, and the code that was typed does not open it.
    CodeRefused(CodeRefused),
    /// There is no such scheme.
    NoSuchScheme,
    /// The bank has too few questions; the message is for the trainer.
    NoForm(String),
}

/// Why an examination cannot begin yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NotYet {
    /// Lessons of these modules have not been read.
    LessonsUnread(Vec<String>),
    /// A trainer must go through the missed safety question with the person first.
    DebriefNeeded(AttemptId),
    /// The waiting time after the last sitting is not over.
    WaitUntil(Moment),
    /// The attempts that the scheme allows are used up until then.
    AttemptsUsedUp(Moment),
    /// The last sitting is passed, and a service manager has still to decide.
    AwaitsDecision(AttemptId),
}

/// Begins an examination that nobody watches, or finds the one that is open.
///
/// # Errors
/// As [`begin_with_code`].
pub async fn begin_examination(
    deeds: &Deeds,
    person: PersonId,
    unit: TemperatureUnit,
    scheme: &str,
) -> Result<Begun, ActionError> {
    begin_with_code(deeds, person, unit, scheme, Typed { code: "", address: "" }).await
}

/// Begins an examination, or finds the one that is open; where somebody watches, with the code that was typed.
///
/// # Errors
/// [`StoreError::NotFound`] when the person is not here any more, or may not sign in; when the store does not answer, or the
/// system gives no random bytes.
pub async fn begin_with_code(
    deeds: &Deeds,
    person: PersonId,
    unit: TemperatureUnit,
    scheme: &str,
    typed: Typed<'_>,
) -> Result<Begun, ActionError> {
    let read = deeds.bank.now();
    let Some(entry) = read.bank.scheme(scheme) else { return Ok(Begun::NoSuchScheme) };
    let now = deeds.clock.now();
    let scheme = &entry.scheme;
    if let Some(open) = attempts::find_open_examination(&deeds.db, person, &scheme.id).await? {
        if !open.is_overdue(now) {
            return Ok(Begun::Sitting(open.id));
        }
        close_when_over(deeds, &open, now).await?;
    }
    if let Some(not_yet) = what_is_missing(&deeds.db, &read.bank, scheme, person, now).await? {
        return Ok(Begun::NotYet(not_yet));
    }
    if scheme.invigilated {
        let may = match try_code(deeds, person, typed, now).await? {
            Ok(tried) => under_code(&deeds.db, person, scheme, typed.code, now).await?.map(|_| tried),
            Err(refused) => Err(refused),
        };
        match may {
            Ok(tried) => deeds.was_right(&tried).await?,
            Err(refused) => return write(&deeds.db, async |tx| refuse(tx, person, scheme, refused, now).await).await,
        }
    }
    let wish = Wish { person, unit, scheme, version: entry.version };
    let drawn = match form_for(deeds, &deeds.db, &read.bank, wish, now).await? {
        Ok(drawn) => drawn,
        Err(no_form) => return Ok(Begun::NoForm(no_form.to_string())),
    };
    write(&deeds.db, async |tx| begin_in(deeds, tx, &read.bank, wish, typed, drawn, now).await).await
}

/// The same inside its transaction, where everything is looked at again: it may have changed since, or be about to.
async fn begin_in(
    deeds: &Deeds,
    tx: &impl ConnectionTrait,
    bank: &Bank,
    wish: Wish<'_>,
    typed: Typed<'_>,
    (form, drawn_after): (Form, usize),
    now: Moment,
) -> Result<Begun, ActionError> {
    let (person, scheme) = (wish.person, wish.scheme);
    people::in_turn(tx, person).await?;
    if !people::by_id(tx, person).await?.active {
        return Err(StoreError::NotFound.into());
    }
    // Two windows may begin at once: the second finds what the first began.
    if let Some(open) = attempts::find_open_examination(tx, person, &scheme.id).await? {
        return Ok(Begun::Sitting(open.id));
    }
    if let Some(not_yet) = what_is_missing(tx, bank, scheme, person, now).await? {
        return Ok(Begun::NotYet(not_yet));
    }
    let under = if scheme.invigilated {
        match under_code(tx, person, scheme, typed.code, now).await? {
            Ok(found) => Some(found.id),
            Err(refused) => return refuse(tx, person, scheme, refused, now).await,
        }
    } else {
        None
    };
    // A question of practice may have come in between, and must not be in the form.
    let form = if attempts::count_asked(tx, person).await? == drawn_after {
        form
    } else {
        match form_for(deeds, tx, bank, wish, now).await? {
            Ok((again, _)) => again,
            Err(no_form) => return Ok(Begun::NoForm(no_form.to_string())),
        }
    };
    open(tx, wish, form, under, now).await
}

/// Who wants to sit what.
#[derive(Clone, Copy)]
struct Wish<'a> {
    person: PersonId,
    unit: TemperatureUnit,
    scheme: &'a Scheme,
    version: u32,
}

/// Puts on record that a code did not open an examination. Nothing else is changed.
async fn refuse(
    tx: &impl ConnectionTrait,
    person: PersonId,
    scheme: &Scheme,
    refused: CodeRefused,
    now: Moment,
) -> Result<Begun, ActionError> {
    if let Some(because) = refused.on_record() {
        let detail = serde_json::json!({ "scheme": scheme.id, "because": because });
        let entry = about_person_with(now, Some(person), "examination_not_begun", person, detail);
        record::append(tx, entry).await?;
    }
    Ok(Begun::CodeRefused(refused))
}

/// The form that a person gets now with its secret, and how many questions they had been asked before it was drawn.
///
/// Nothing that they practised is in it; nothing of earlier sittings either, as long as the bank has enough.
async fn form_for(
    deeds: &Deeds,
    db: &impl ConnectionTrait,
    bank: &Bank,
    wish: Wish<'_>,
    now: Moment,
) -> Result<Result<(Form, usize), NoForm>, ActionError> {
    let drawn_after = attempts::count_asked(db, wish.person).await?;
    let practised = asked_before(db, wish.person, AttemptKind::Practice).await?;
    let examined = asked_before(db, wish.person, AttemptKind::Examination).await?;
    let everything: Vec<Question> = practised.iter().cloned().chain(examined).collect();
    let (answers, nothing_known) = (deeds.bank.answers(db, now).await?, Answers::default());
    let secret = deeds.seeds.fresh()?;
    let mut made = Err(NoForm::Unbalanced);
    // From the best down to what is still fair: practice is never asked again, and forms are balanced at least by level.
    for (seen, answers) in
        [(&everything, &*answers), (&practised, &*answers), (&everything, &nothing_known), (&practised, &nothing_known)]
    {
        let wanted = Wanted { scheme: wish.scheme, secret, unit: wish.unit, seen, answers };
        made = assemble_for(bank, &wanted);
        if made.is_ok() {
            break;
        }
    }
    Ok(made.map(|questions| (Form { secret, questions }, drawn_after)))
}

/// What a person was asked in attempts of a kind. What does not read back any more is of a form that is not made any more.
pub(super) async fn asked_before(
    db: &impl ConnectionTrait,
    person: PersonId,
    kind: AttemptKind,
) -> Result<Vec<Question>, StoreError> {
    let asked = attempts::asked_so_far(db, person, kind).await?;
    Ok(asked.iter().filter_map(|json| serde_json::from_str(json).ok()).collect())
}

/// A form with the secret that it was drawn from.
struct Form {
    secret: [u8; 32],
    questions: Vec<Question>,
}

/// Freezes the form and starts the clock, under the terms of now.
async fn open(
    tx: &impl ConnectionTrait,
    wish: Wish<'_>,
    form: Form,
    under: Option<InvigilationId>,
    now: Moment,
) -> Result<Begun, ActionError> {
    let (person, scheme) = (wish.person, wish.scheme);
    let extra_s = extra_times::counts_for(tx, person).await?.seconds(scheme.time_limit_s);
    let new = NewAttempt {
        person_id: person,
        kind: AttemptKind::Examination,
        scheme_key: Some(scheme.id.clone()),
        scheme_version: i32::try_from(wish.version).ok(),
        module_key: None,
        seed: form.secret,
        temperature_unit: wish.unit,
        started_at: now,
        deadline_at: Some(now.plus_seconds(scheme.time_limit_s + extra_s)),
    };
    let terms = Terms { extra_s, invigilation_id: under };
    let count = form.questions.len();
    let id = attempts::open_under(tx, new, terms, form.questions.iter().map(frozen).collect()).await?;
    // How much more time somebody has is personal, and not told here: it is bound with the attempt when it is graded.
    let mut detail = serde_json::json!({ "scheme": scheme.id, "version": wish.version, "questions": count });
    if let Some(under) = under {
        detail["invigilation"] = serde_json::json!(under);
    }
    record::append(tx, on_attempt(now, Some(person), "examination_begun", id, detail)).await?;
    Ok(Begun::Sitting(id))
}

/// What keeps a person from sitting a scheme's examination now; nothing when they may.
///
/// # Errors
/// When the store does not answer.
pub async fn what_is_missing(
    db: &impl ConnectionTrait,
    bank: &Bank,
    scheme: &Scheme,
    person: PersonId,
    now: Moment,
) -> Result<Option<NotYet>, StoreError> {
    let read = progress::lessons_read(db, person).await?;
    let has_read = |module: &str, lesson: &str| read.iter().any(|r| r.module_key == module && r.lesson_key == lesson);
    let unread: Vec<String> = scheme
        .modules
        .iter()
        .filter_map(|id| bank.module(id))
        .filter(|module| !module.lessons.iter().all(|lesson| has_read(&module.id, &lesson.id)))
        .map(|module| module.id.clone())
        .collect();
    if !unread.is_empty() {
        return Ok(Some(NotYet::LessonsUnread(unread)));
    }
    if scheme.debrief_after_safety_miss
        && let Some(missed) = without_debrief(db, scheme, person).await?
    {
        return Ok(Some(NotYet::DebriefNeeded(missed)));
    }
    let lines = decisions::lines(db, Some(person)).await?;
    if let Some(not_yet) = what_was_proposed(scheme, &lines, now) {
        return Ok(Some(not_yet));
    }
    let Some(last) = last_sitting(db, scheme, person).await? else { return Ok(None) };
    if lines.iter().any(|line| line.attempt_id == last.id && line.finding == Some(Finding::Upheld)) {
        return Ok(None);
    }
    let Some(result) = attempts::find_result(db, last.id).await? else { return Ok(None) };
    if result.passed {
        return Ok(None);
    }
    let over = result.graded_at.plus_seconds(scheme.resit_after_s);
    Ok((over > now).then_some(NotYet::WaitUntil(over)))
}

/// What the proposals about earlier sittings by a scheme, newest first, keep the person waiting for.
fn what_was_proposed(scheme: &Scheme, lines: &[DecisionLine], now: Moment) -> Option<NotYet> {
    let mut own = lines.iter().filter(|line| line.scheme_key == scheme.id).peekable();
    if let Some(last) = own.peek() {
        let open = last.decided.is_none() && openness(last.examined_at, false, now) == Openness::Waits;
        if open && last.proposes == Proposes::Grant {
            return Some(NotYet::AwaitsDecision(last.attempt_id));
        }
    }
    let window = scheme.attempts_within_days * 86_400;
    // An appeal that was upheld takes its sitting out of the count.
    let failed: Vec<Moment> = own
        .take_while(|line| line.proposes == Proposes::Refuse)
        .filter(|line| line.finding != Some(Finding::Upheld))
        .map(|line| line.examined_at)
        .filter(|at| at.plus_seconds(window) > now)
        .collect();
    let oldest_that_counts = scheme.attempts_allowed.checked_sub(1).and_then(|place| failed.get(place))?;
    Some(NotYet::AttemptsUsedUp(oldest_that_counts.plus_seconds(window)))
}

/// The newest sitting, by whatever scheme, in which a mandatory question on one of this scheme's competences was missed
/// and that nobody has gone through with the person. A pass since then closes the miss.
///
/// Another scheme's miss counts too: otherwise whoever failed on fire could qualify in it by the next examination that
/// asks about fire, without the talk.
async fn without_debrief(
    db: &impl ConnectionTrait,
    scheme: &Scheme,
    person: PersonId,
) -> Result<Option<AttemptId>, StoreError> {
    let mut passed_since = BTreeSet::new();
    for found in qualifications::of_person(db, person).await? {
        let entry = found.entry;
        if !scheme.parts.iter().any(|part| part.competence == entry.competence_key) {
            continue;
        }
        if entry.outcome == QualificationOutcome::Qualified {
            passed_since.insert(entry.competence_key);
        } else if entry.safety_miss
            && !passed_since.contains(&entry.competence_key)
            && debriefs::find_of_attempt(db, entry.attempt_id).await?.is_none()
        {
            return Ok(Some(entry.attempt_id));
        }
    }
    Ok(None)
}

async fn last_sitting(
    db: &impl ConnectionTrait,
    scheme: &Scheme,
    person: PersonId,
) -> Result<Option<Attempt>, StoreError> {
    let all = attempts::of_person(db, person).await?;
    Ok(all.into_iter().find(|attempt| {
        attempt.kind == AttemptKind::Examination && attempt.scheme_key.as_deref() == Some(scheme.id.as_str())
    }))
}

/// A question as it is kept.
pub(super) fn frozen(question: &Question) -> NewQuestion {
    let version = |version: u32| i32::try_from(version).unwrap_or(i32::MAX);
    let counted = |count: usize| i32::try_from(count).unwrap_or(i32::MAX);
    let (part, of) = question.part();
    let source = &question.source;
    NewQuestion {
        template_key: source.template.clone(),
        template_version: version(source.template_version),
        machine_key: source.machine.clone(),
        machine_version: version(source.machine_version),
        model_version: version(source.model_version),
        competence_key: question.competence.clone(),
        mandatory: question.mandatory,
        json: String::from_utf8_lossy(&question.bytes()).into_owned(),
        part: counted(part),
        parts: counted(of),
    }
}

/// An entry of the record about an attempt.
pub(super) fn on_attempt(
    at: Moment,
    by: Option<PersonId>,
    deed: &str,
    attempt: AttemptId,
    detail: serde_json::Value,
) -> record::NewEntry {
    record::NewEntry {
        at,
        actor_id: by,
        deed: deed.to_owned(),
        subject_kind: "attempt".to_owned(),
        subject_id: Some(attempt.0),
        detail,
    }
}
