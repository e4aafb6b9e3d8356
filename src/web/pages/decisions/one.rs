//! `/decisions/{attempt}`: one proposal with all it rests on, the decision, the appeal.

use super::super::record::{competence_name, incidents_in, said, scheme_title};
use super::{decider, words};
use crate::actions::Token;
use crate::actions::appeal::{Heard, decide_appeal, is_overtaken};
use crate::actions::decide::{self, Asked, Decided, bar};
use crate::domain::bank::Bank;
use crate::domain::certification::decision::{Finding, Remedy, Verdict, remedy};
use crate::domain::certification::proposal::{Proposes, openness};
use crate::domain::units::plain_number;
use crate::store::decisions::{self, Decision};
use crate::store::proposals::{self, KeptProposal};
use crate::store::read::sitting::{Sitting, graded};
use crate::store::read::trained::who_trained;
use crate::store::{AttemptId, PersonId, branches, certificates, people};
use crate::web::error::PageError;
use crate::web::form::{Fields, Reader};
use crate::web::guard::SignedIn;
use crate::web::view::{FieldError, Page};
use crate::web::{App, reply};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Serialize;

const TEMPLATE: &str = "pages/decisions/one.html";

#[derive(Serialize)]
struct Part {
    name: String,
    right: String,
    asked: usize,
    cut: String,
    passed: bool,
}

#[derive(Serialize)]
struct Talk {
    by: String,
    at: i64,
    note: String,
}

/// Something that somebody decided or said.
#[derive(Serialize)]
struct Told {
    what: &'static str,
    by: Option<String>,
    at: i64,
    text: String,
}

#[derive(Serialize)]
struct One {
    page: Page,
    attempt: i64,
    name: String,
    branch: String,
    scheme: String,
    scheme_version: i32,
    examined_at: i64,
    score: String,
    grants: bool,
    grounds: Vec<String>,
    parts: Vec<Part>,
    misses: Vec<String>,
    /// What whoever watched wrote down.
    incidents: Vec<String>,
    talk: Option<Talk>,
    trained: Vec<String>,
    competences: Vec<String>,
    machines: Vec<String>,
    valid_until: i64,
    decision: Option<Told>,
    certificate: Option<String>,
    appeal: Option<Told>,
    finding: Option<Told>,
    /// What upholding the appeal leads to.
    remedy: &'static str,
    /// Why this reader cannot decide now; nothing when they can.
    not_yours: Option<&'static str>,
    reason: String,
    key: String,
    zone: String,
}

/// One decision.
///
/// # Errors
/// Nothing here for this reader, or the program cannot do it now.
pub async fn show(
    app: web::Data<App>,
    request: HttpRequest,
    reader: SignedIn,
    id: web::Path<i64>,
) -> Result<HttpResponse, PageError> {
    let mut one = one(&app, &reader, AttemptId(id.into_inner()), String::new(), Vec::new()).await?;
    one.page.notice = match Fields::from_text(request.query_string())?.typed("done") {
        "now" => Some("Written down."),
        "before" => Some("Somebody had decided before. That decision stands."),
        "anew" => Some("What the person brings has changed, so the proposal has. Read it again, then decide."),
        _ => None,
    }
    .map(str::to_owned);
    reply::page(&app, TEMPLATE, &one)
}

/// Decides.
///
/// # Errors
/// Nothing here for this reader, or the program cannot do it now.
pub async fn decide(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let attempt = AttemptId(id.into_inner());
    let key = Token::from_text(fields.typed("key")).ok_or(PageError::Malformed("no key to decide with"))?;
    let mut form = Reader::new(&fields);
    let verdict = match fields.typed("verdict") {
        "granted" => Verdict::Granted,
        "refused" => Verdict::Refused,
        _ => return Err(PageError::Malformed("a verdict that nobody knows")),
    };
    let reason = form.lines("reason", |typed| match typed.trim() {
        "" => Ok(String::new()),
        typed => said(typed, "Nobody can read this. Write why, or nothing."),
    });
    if let Some(reason) = reason {
        let asked = Asked { attempt, verdict, reason: &reason, key: key.as_str() };
        let problem = match decide::decide(&app.deeds, decider(&reader), asked).await? {
            Decided::Done(_) => return Ok(reply::see_other(&format!("/decisions/{attempt}?done=now"))),
            Decided::Before => return Ok(reply::see_other(&format!("/decisions/{attempt}?done=before"))),
            Decided::NewProposal => return Ok(reply::see_other(&format!("/decisions/{attempt}?done=anew"))),
            Decided::Barred(of) => words::bar(of),
            Decided::Flawed(of) => words::flaw(of),
            Decided::NotOpen(of) => words::closed(of).unwrap_or_default(),
        };
        form.wrong("reason", problem);
    }
    let typed = fields.typed("reason").to_owned();
    let errors = form.into_errors();
    reply::form_again(&app, TEMPLATE, &one(&app, &reader, attempt, typed, errors).await?)
}

/// Decides on the appeal.
///
/// # Errors
/// Nothing here for this reader, or the program cannot do it now.
pub async fn hear(
    app: web::Data<App>,
    reader: SignedIn,
    id: web::Path<i64>,
    fields: Fields,
) -> Result<HttpResponse, PageError> {
    let attempt = AttemptId(id.into_inner());
    let mut form = Reader::new(&fields);
    let finding = match fields.typed("finding") {
        "upheld" => Finding::Upheld,
        "dismissed" => Finding::Dismissed,
        _ => return Err(PageError::Malformed("a finding that nobody knows")),
    };
    let reason = form.lines("reason", |typed| said(typed, "Write down why. The person reads it."));
    if let Some(reason) = reason {
        match decide_appeal(&app.deeds, decider(&reader), attempt, finding, &reason).await? {
            Heard::Done(_) => return Ok(reply::see_other(&format!("/decisions/{attempt}?done=now"))),
            Heard::Before => return Ok(reply::see_other(&format!("/decisions/{attempt}?done=before"))),
            Heard::Barred(of) => form.wrong("reason", words::bar(of)),
        }
    }
    let typed = fields.typed("reason").to_owned();
    let errors = form.into_errors();
    reply::form_again(&app, TEMPLATE, &one(&app, &reader, attempt, typed, errors).await?)
}

async fn one(
    app: &App,
    reader: &SignedIn,
    attempt: AttemptId,
    reason: String,
    errors: Vec<FieldError>,
) -> Result<One, PageError> {
    let (db, in_use, by) = (&app.deeds.db, app.deeds.bank.now(), decider(reader));
    let bank = &in_use.bank;
    let kept = proposals::by_attempt(db, attempt).await?;
    let person = people::by_id(db, kept.entry.person_id).await?;
    let appeal = decisions::find_appeal(db, attempt).await?;
    // Another branch's decision is nobody's here, until there is an appeal to be heard.
    if !by.looks_after(person.branch_id) && appeal.is_none() {
        return Err(PageError::NotFound);
    }
    let sitting = graded(db, person.id, attempt).await?;
    let decision = decisions::find(db, attempt).await?;
    let barred = bar(db, bank, by, &person, &kept, decision.as_ref().filter(|_| appeal.is_some())).await?;
    let superseded = proposals::is_superseded(db, &kept.entry).await?;
    let closed = openness(kept.entry.examined_at, superseded, app.deeds.clock.now());
    let not_yours = barred.map(words::bar).or_else(|| words::closed(closed).filter(|_| decision.is_none()));
    let trained = who_trained(db, person.id).await?;
    let overtaken = is_overtaken(db, &kept.entry).await?;
    let certificate = certificates::find_of_attempt(db, attempt).await?;
    let mut page = reader.page(&format!("Decision: {}", person.display_name), "/decisions");
    page.errors = errors;
    let decided = match &decision {
        Some(of) => Some(told(app, verdict(of), of.decided_by, of.decided_at.0, &of.reason).await?),
        None => None,
    };
    let (appealed, found) = appeal_told(app, attempt, person.id).await?;
    Ok(One {
        page,
        attempt: attempt.0,
        branch: branches::by_id(db, person.branch_id).await?.name,
        scheme: scheme_title(bank, Some(&kept.entry.scheme_key)),
        scheme_version: kept.entry.scheme_version,
        examined_at: kept.entry.examined_at.0,
        score: format!("{} of {} right", sitting.outcome.earned(), sitting.outcome.asked),
        grants: kept.entry.proposal.proposes == Proposes::Grant,
        grounds: kept.entry.proposal.grounds.iter().map(|of| words::ground(bank, of)).collect(),
        parts: parts(bank, &sitting),
        misses: misses(bank, &sitting),
        incidents: incidents_in(app, &reader.time_zone, sitting.attempt_id).await?,
        talk: sitting.debrief.as_ref().map(|(held, by)| Talk {
            by: by.clone(),
            at: held.held_at.0,
            note: held.note.clone(),
        }),
        trained: trained.into_iter().map(|one| format!("{}: {}", one.name, one.how)).collect(),
        competences: kept.entry.competences.iter().map(|key| competence_name(bank, key)).collect(),
        machines: machines(&kept),
        valid_until: kept.entry.valid_until.0,
        certificate: certificate.map(|of| of.number.to_string()),
        remedy: match decision.as_ref().map(|decision| remedy(decision.proposes, overtaken)) {
            Some(Remedy::Certificate) => "Upheld, the certificate that was proposed is granted.",
            _ => "Upheld, the examination does not count against the person. It still gives no certificate.",
        },
        decision: decided,
        appeal: appealed,
        finding: found,
        not_yours,
        reason,
        key: Token::fresh()?.as_str().to_owned(),
        name: person.display_name,
        zone: reader.time_zone.clone(),
    })
}

/// What somebody decided or said, with their name.
async fn told(app: &App, what: &'static str, by: Option<PersonId>, at: i64, text: &str) -> Result<Told, PageError> {
    let by = match by {
        Some(by) => Some(people::by_id(&app.deeds.db, by).await?.display_name),
        None => None,
    };
    Ok(Told { what, by, at, text: text.to_owned() })
}

/// The appeal about a sitting, and what was decided on it.
async fn appeal_told(
    app: &App,
    attempt: AttemptId,
    person: PersonId,
) -> Result<(Option<Told>, Option<Told>), PageError> {
    let Some(appeal) = decisions::find_appeal(&app.deeds.db, attempt).await? else { return Ok((None, None)) };
    let lodged = told(app, "Appeal", Some(person), appeal.lodged_at.0, &appeal.text).await?;
    let found = match decisions::find_appeal_decision(&app.deeds.db, attempt).await? {
        Some(of) => Some(told(app, heard(of.finding), Some(of.decided_by), of.decided_at.0, &of.reason).await?),
        None => None,
    };
    Ok((Some(lodged), found))
}

const fn verdict(of: &Decision) -> &'static str {
    match of.verdict {
        Verdict::Granted => "Granted",
        Verdict::Refused => "Refused",
    }
}

const fn heard(of: Finding) -> &'static str {
    match of {
        Finding::Upheld => "Upheld",
        Finding::Dismissed => "Dismissed",
    }
}

fn parts(bank: &Bank, sitting: &Sitting) -> Vec<Part> {
    let part = |part: &crate::domain::examination::outcome::PartOutcome| Part {
        name: competence_name(bank, &part.competence),
        right: part.earned(),
        asked: part.asked,
        cut: plain_number(part.cut_percent),
        passed: part.passed,
    };
    sitting.outcome.parts.iter().map(part).collect()
}

/// The mandatory safety questions that were missed, in words.
fn misses(bank: &Bank, sitting: &Sitting) -> Vec<String> {
    let missed = sitting.questions.iter().filter(|asked| asked.question.mandatory && !asked.correct);
    let words = missed.map(|asked| {
        let name = competence_name(bank, &asked.question.competence);
        format!("Question {}, {name}: \u{201c}{}\u{201d}", asked.position, asked.question.shown.prompt)
    });
    words.collect()
}

fn machines(kept: &KeptProposal) -> Vec<String> {
    kept.entry.machines.iter().map(|on| format!("{}, profile version {}", on.machine, on.version)).collect()
}
