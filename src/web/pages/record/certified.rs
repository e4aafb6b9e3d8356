//! The certificates, decisions and happenings of a person's record as rows.

use super::of_person::Seen;
use super::stood::resting;
use crate::domain::bank::Bank;
use crate::domain::certification::certificate::State;
use crate::domain::certification::decision::{Finding, Verdict};
use crate::domain::certification::proposal::{Openness, Proposes, openness};
use crate::domain::units::Moment;
use crate::store::read::certification::Certification;
use crate::store::read::decisions::DecisionLine;
use crate::web::dates::day;
use crate::web::error::PageError;
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct CertificateRow {
    number: String,
    href: String,
    scheme: String,
    state: &'static str,
    note: Option<String>,
    valid_until: i64,
}

#[derive(Serialize)]
pub(super) struct DecisionRow {
    href: String,
    scheme: String,
    examined_at: i64,
    proposed: &'static str,
    decided: String,
    /// Reasons and appeals, each a sentence.
    lines: Vec<String>,
    /// Where the person may appeal.
    appeal: Option<String>,
}

#[derive(Serialize)]
pub(super) struct HappenedRow {
    at: i64,
    what: &'static str,
    text: String,
}

/// More about a certificate's state: since or by when, and why.
///
/// # Errors
/// When the branch's time zone is none.
pub(in crate::web::pages) fn state_words(state: State, zone: &str) -> Result<Option<String>, PageError> {
    Ok(Some(match state {
        State::Valid => return Ok(None),
        State::RefresherDue { by, because } => format!("by {}: {}", day(by, zone)?, because.name()),
        State::Suspended { since, because } => resting(because, since, zone)?,
        State::Withdrawn { at } | State::Lapsed { at } => format!("on {}", day(at, zone)?),
        State::Renewed { at } => format!("by a newer one on {}", day(at, zone)?),
    }))
}

/// The certificates, the newest first.
pub(super) fn certificate_rows(
    bank: &Bank,
    of: &Certification,
    seen: Seen,
    now: Moment,
    zone: &str,
) -> Result<Vec<CertificateRow>, PageError> {
    let row = |one: &crate::store::certificates::Certificate| {
        let state = of.state_of(one, now);
        Ok(CertificateRow {
            number: one.number.to_string(),
            href: seen.certificate(&one.number.to_string()),
            scheme: super::events::scheme_title(bank, Some(&one.entry.scheme_key)),
            state: state.word(),
            note: state_words(state, zone)?,
            valid_until: one.entry.valid_until.0,
        })
    };
    of.certificates.iter().rev().map(row).collect()
}

/// What was proposed and decided, the newest first.
pub(super) fn decision_rows(
    bank: &Bank,
    lines: &[DecisionLine],
    seen: Seen,
    now: Moment,
    zone: &str,
) -> Result<Vec<DecisionRow>, PageError> {
    let row = |line: &DecisionLine| {
        let own = seen == Seen::ByThemselves;
        let refused = matches!(line.decided, Some((Verdict::Refused, _)));
        let mut more: Vec<String> = Vec::new();
        if !line.reason.is_empty() {
            more.push(line.reason.clone());
        }
        if let Some(at) = line.appealed_at {
            let (of, how) = (day(at, zone)?, found(line.finding));
            more.push(format!("Appeal of {of}, {how}: \u{201c}{}\u{201d}", line.appeal));
        }
        if !line.finding_reason.is_empty() {
            more.push(line.finding_reason.clone());
        }
        Ok(DecisionRow {
            href: seen.sitting(line.person_id, line.attempt_id),
            scheme: super::events::scheme_title(bank, Some(&line.scheme_key)),
            examined_at: line.examined_at.0,
            proposed: match line.proposes {
                Proposes::Grant => "to grant",
                Proposes::Refuse => "to refuse",
            },
            decided: decided(line, now, zone)?,
            lines: more,
            appeal: (own && refused && line.appealed_at.is_none())
                .then(|| format!("/record/sitting/{}/appeal", line.attempt_id)),
        })
    };
    lines.iter().map(row).collect()
}

/// What was decided, in words.
pub(in crate::web::pages) fn decided(line: &DecisionLine, now: Moment, zone: &str) -> Result<String, PageError> {
    Ok(match line.decided {
        Some((Verdict::Granted, at)) => format!("granted on {}", day(at, zone)?),
        Some((Verdict::Refused, at)) => format!("refused on {}", day(at, zone)?),
        None => match openness(line.examined_at, line.superseded, now) {
            Openness::Waits => "waits for decision",
            Openness::Superseded => "not decided: there is a later examination",
            Openness::Expired => "not decided in time",
        }
        .to_owned(),
    })
}

/// What was decided on an appeal, in a word.
pub(in crate::web::pages) const fn found(finding: Option<Finding>) -> &'static str {
    match finding {
        Some(Finding::Upheld) => "upheld",
        Some(Finding::Dismissed) => "dismissed",
        None => "waits for decision",
    }
}

/// What happened, the newest first.
pub(super) fn happened_rows(of: &Certification) -> Vec<HappenedRow> {
    let row = |kept: &crate::store::triggers::KeptTrigger| HappenedRow {
        at: kept.entry.trigger.at.0,
        what: kept.entry.trigger.kind.name(),
        text: kept.entry.text.clone(),
    };
    of.triggers.iter().rev().map(row).collect()
}
