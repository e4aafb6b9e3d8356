//! What a graded examination decided about competences, worked out again from its outcome and compared with the rows.

use crate::actions::conclude::months_later;
use crate::actions::regrade::Rows;
use crate::domain::examination::outcome::{Graded, Outcome};
use crate::domain::examination::scheme::Scheme;
use crate::domain::units::Moment;
use crate::store::RecordEntryId;
use crate::store::certificates::Certificate;
use crate::store::qualifications::{Qualification, QualificationOutcome};

/// A decision as far as it can be worked out; its reason is in words, which may change with a competence's name.
type Decision = (String, bool, bool, Moment, Option<Moment>);

/// Where the rows differ from what the outcome decides, in words.
pub(super) fn differences(
    rows: &Rows,
    scheme: &Scheme,
    graded: &[Graded],
    outcome: &Outcome,
    entry: RecordEntryId,
    decided: &[Qualification],
    certificate: Option<&Certificate>,
) -> Vec<String> {
    let Some(at) = rows.result.as_ref().map(|result| result.graded_at) else { return Vec::new() };
    let missed =
        |competence: &str| graded.iter().any(|question| question.competence == competence && question.is_safety_miss());
    // A fail says something at once about what was not passed; a pass nothing, until a certificate is granted for all of it.
    let (qualified, from, until, entry) = match certificate {
        Some(of) => (true, of.entry.valid_from, Some(of.entry.valid_until), of.entry.record_entry_id),
        None => (false, at, None, entry),
    };
    let wanted = outcome.parts.iter().filter(|part| qualified || (!outcome.passed && !part.passed));
    let mut wanted: Vec<Decision> =
        wanted.map(|part| (part.competence.clone(), qualified, missed(&part.competence), from, until)).collect();
    let mut stored: Vec<Decision> = decided
        .iter()
        .map(|row| {
            let entry = &row.entry;
            let qualified = entry.outcome == QualificationOutcome::Qualified;
            (entry.competence_key.clone(), qualified, entry.safety_miss, entry.valid_from, entry.valid_until)
        })
        .collect();
    wanted.sort();
    stored.sort();
    let mut says = Vec::new();
    if certificate.is_some() && !outcome.passed {
        says.push("a certificate was granted on it, and it is not passed".to_owned());
    }
    if certificate.is_some_and(|of| Some(of.entry.valid_until) != months_later(at, scheme.valid_for_months).ok()) {
        says.push("its certificate is valid for another time than its scheme says".to_owned());
    }
    if wanted != stored {
        let named = wanted.iter().chain(&stored).filter(|one| wanted.contains(one) != stored.contains(one));
        let mut named: Vec<&str> = named.map(|one| one.0.as_str()).collect();
        named.dedup();
        says.push(format!("what is stored of its decisions is not what its outcome decides: {}", named.join(", ")));
    }
    let attempt = &rows.attempt;
    let elsewhere = decided.iter().any(|row| {
        let row = &row.entry;
        row.person_id != attempt.person_id
            || row.record_entry_id != entry
            || Some(row.scheme_version) != attempt.scheme_version
            || Some(row.scheme_key.as_str()) != attempt.scheme_key.as_deref()
    });
    if elsewhere {
        says.push("a decision of it names another person, scheme or entry of the record".to_owned());
    }
    let reasonless = |row: &&Qualification| {
        let part = outcome.parts.iter().find(|part| part.competence == row.entry.competence_key);
        part.is_some_and(|part| {
            let right = format!("{} of {} right in ", part.earned(), part.asked);
            !row.entry.reason.starts_with(&right)
        })
    };
    if let Some(row) = decided.iter().find(reasonless) {
        says.push(format!(
            "the reason of its decision about {} is not what its outcome gives",
            row.entry.competence_key
        ));
    }
    says
}
