//! Where a person stands in one competence, with the entry that decides it and the words for it.
//!
//! The standing itself is the domain's; here it only gets its words and dates.

use crate::domain::bank::Bank;
use crate::domain::certification::certificate::Rest;
use crate::domain::certification::{Reason, Standing, Suspension};
use crate::domain::units::Moment;
use crate::store::qualifications::{Qualification, QualificationOutcome, standing};
use crate::store::read::certification::Certification;
use crate::web::dates::day;
use crate::web::error::PageError;
use std::collections::BTreeMap;

/// A competence as a column or a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::web::pages) struct Subject {
    /// Its word in the record.
    pub(in crate::web::pages) key: String,
    /// What people call it.
    pub(in crate::web::pages) name: String,
    /// Whether a wrong answer forbids a certificate.
    pub(in crate::web::pages) mandatory: bool,
}

/// The bank's competences in its order, then those that only the record still knows.
pub(in crate::web::pages) fn subjects<'a>(bank: &Bank, on_record: impl Iterator<Item = &'a String>) -> Vec<Subject> {
    let mut all: Vec<Subject> = bank
        .competences()
        .iter()
        .map(|known| Subject { key: known.id.clone(), name: known.name.clone(), mandatory: known.mandatory })
        .collect();
    let mut others: Vec<&String> = on_record.filter(|key| bank.competence(key).is_none()).collect();
    others.sort();
    others.dedup();
    all.extend(others.into_iter().map(|key| Subject { key: key.clone(), name: key.clone(), mandatory: false }));
    all
}

/// Where somebody stands in one competence.
#[derive(Clone, Debug)]
pub(in crate::web::pages) struct Stood {
    /// Nothing when the person's scheme does not ask for it and nothing is on record.
    pub(in crate::web::pages) standing: Option<Standing>,
    /// The entries that it follows from, oldest first.
    entries: Vec<Qualification>,
}

impl Stood {
    /// Where somebody stands in each of `subjects`, from their entries by competence (those since the last grant are
    /// enough) and their certification. `scheme` is what they are working towards.
    pub(in crate::web::pages) fn in_all(
        bank: &Bank,
        subjects: &[Subject],
        scheme: Option<&str>,
        mut entries: BTreeMap<String, Vec<Qualification>>,
        certification: &Certification,
        now: Moment,
    ) -> Vec<Self> {
        let scheme = scheme.and_then(|id| bank.scheme(id));
        let asked_for =
            |key: &str| scheme.is_none_or(|entry| entry.scheme.parts.iter().any(|part| part.competence == key));
        let in_one = |subject: &Subject| {
            let mut entries = entries.remove(&subject.key).unwrap_or_default();
            entries.sort_by_key(|found| found.id);
            let found = standing(&entries, certification, &subject.key, now);
            let wanted = !entries.is_empty() || asked_for(&subject.key) || matches!(found, Standing::Waits { .. });
            Self { standing: wanted.then_some(found), entries }
        };
        subjects.iter().map(in_one).collect()
    }

    /// Where somebody stands in one competence at a moment, from entries oldest first.
    pub(in crate::web::pages) fn at(
        entries: Vec<Qualification>,
        certification: &Certification,
        competence: &str,
        at: Moment,
    ) -> Self {
        Self { standing: Some(standing(&entries, certification, competence, at)), entries }
    }

    /// The state's word for the matrix and the export.
    pub(in crate::web::pages) fn word(&self) -> &'static str {
        self.standing.map_or("none", Standing::word)
    }

    /// Whether the person may be sent to such work.
    pub(in crate::web::pages) fn may_be_sent(&self) -> bool {
        self.standing.is_some_and(Standing::is_qualified)
    }

    /// Whether a safety miss is open.
    pub(in crate::web::pages) fn safety_miss_is_open(&self) -> bool {
        matches!(
            self.standing,
            Some(
                Standing::Suspended { because: Suspension::SafetyMiss, .. }
                    | Standing::Missing(Reason::SafetyMiss { .. })
            )
        )
    }

    /// The last grant.
    pub(in crate::web::pages) fn pass(&self) -> Option<&Qualification> {
        self.entries.iter().rev().find(|found| found.entry.outcome == QualificationOutcome::Qualified)
    }

    /// The entry that the standing follows from.
    pub(in crate::web::pages) fn deciding(&self) -> Option<&Qualification> {
        match self.standing? {
            Standing::Qualified { .. }
            | Standing::Expiring { .. }
            | Standing::RefresherDue { .. }
            | Standing::Suspended { because: Suspension::Certificate(_), .. }
            | Standing::Missing(Reason::Lapsed { .. } | Reason::Withdrawn { .. }) => self.pass(),
            Standing::Suspended { since, because: Suspension::SafetyMiss }
            | Standing::Missing(Reason::SafetyMiss { at: since }) => {
                self.entries.iter().find(|found| found.entry.safety_miss && found.entry.valid_from == since)
            }
            Standing::Missing(Reason::NotPassed { .. }) => self.entries.last(),
            Standing::Waits { .. } | Standing::Missing(Reason::NeverExamined) => None,
        }
    }

    /// Until when, or why not.
    ///
    /// # Errors
    /// When the branch's time zone is none.
    pub(in crate::web::pages) fn note(&self, zone: &str) -> Result<Option<String>, PageError> {
        let Some(standing) = self.standing else { return Ok(None) };
        Ok(Some(match standing {
            Standing::Qualified { until } | Standing::Expiring { until } => format!("until {}", day(until, zone)?),
            Standing::RefresherDue { by, because } => format!("refresher by {}: {}", day(by, zone)?, because.name()),
            Standing::Suspended { since: at, because: Suspension::SafetyMiss }
            | Standing::Missing(Reason::SafetyMiss { at }) => {
                format!("safety question missed on {}", day(at, zone)?)
            }
            Standing::Suspended { since, because: Suspension::Certificate(because) } => resting(because, since, zone)?,
            Standing::Waits { since } => format!("passed on {}", day(since, zone)?),
            Standing::Missing(Reason::NeverExamined) => "no certificate on record".to_owned(),
            Standing::Missing(Reason::Withdrawn { at }) => format!("certificate withdrawn on {}", day(at, zone)?),
            Standing::Missing(Reason::Lapsed { at }) => format!("lapsed on {}", day(at, zone)?),
            Standing::Missing(Reason::NotPassed { at }) => format!("not passed on {}", day(at, zone)?),
        }))
    }
}

/// Why a certificate rests, and since when.
///
/// # Errors
/// When the branch's time zone is none.
pub(in crate::web::pages) fn resting(because: Rest, since: Moment, zone: &str) -> Result<String, PageError> {
    let since = day(since, zone)?;
    Ok(match because {
        Rest::ByDecision => format!("certificate suspended on {since}"),
        Rest::Trigger(kind) => format!("{} on {since}", kind.name()),
        Rest::RefresherOverdue(kind) => format!("refresher overdue since {since}: {}", kind.name()),
    })
}
