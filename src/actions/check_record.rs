//! Holding everything that can be proved against the record: the chain itself, and the rows of concluded examinations, of what
//! followed on them, of people, talks, documents and issuer's keys that its entries tell of.
//!
//! Reads only, and reports every fault, not the first. What nobody has put on record cannot be checked here: practice,
//! answers of examinations that are still open, letters.

mod assigned;
mod certified;
mod decided;
mod observed;
mod proposed;
mod standing;
mod watched;

use self::proposed::{Examined, Followed};
use super::issuer::keys_are_on_record;
use super::load_bank::sha256;
use super::past_bank::PastBank;
use super::regrade::{Rows, outcome_again, regrade};
use super::replay_attempt::scheme_of;
use crate::domain::examination::outcome::Outcome;
use crate::store::certificates;
use crate::store::read::record_head::{RecordHead, record_head};
use crate::store::record::{self, RecordEntry, Verification};
use crate::store::{StoreError, attempts, bank_documents, debriefs};
use sea_orm::ConnectionTrait;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// Something that is not as it was put on record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// What it is about, such as `attempt 12`.
    pub about: String,
    /// What is wrong with it, in words.
    pub says: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.about, self.says)
    }
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordChecked {
    /// Whether the chain holds.
    pub chain: Verification,
    /// Where it ends.
    pub head: RecordHead,
    /// How many examinations were handed in, and so graded again.
    pub concluded: usize,
    /// How many of them are from before their rows' digest was put on record: graded again, but not bound.
    pub not_bound: usize,
    /// How many are open.
    pub open: usize,
    /// How many talks were compared.
    pub talks: usize,
    /// How many versions of documents were compared.
    pub documents: usize,
    /// How many of them are from before their digest was put on record.
    pub documents_not_bound: usize,
    /// What is wrong beside the chain.
    pub faults: Vec<Fault>,
}

impl RecordChecked {
    /// Whether nothing is wrong.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.faults.is_empty() && matches!(self.chain, Verification::Whole { .. })
    }

    fn fault(&mut self, about: String, says: impl Into<String>) {
        self.faults.push(Fault { about, says: says.into() });
    }
}

/// Checks everything. `heads` were written down earlier and must be in the chain.
///
/// # Errors
/// When the store does not answer.
pub async fn check_record(db: &impl ConnectionTrait, heads: &[String]) -> Result<RecordChecked, StoreError> {
    let mut found = RecordChecked {
        chain: record::verify_with(db, heads).await?,
        head: record_head(db).await?,
        concluded: 0,
        not_bound: 0,
        open: 0,
        talks: 0,
        documents: 0,
        documents_not_bound: 0,
        faults: Vec::new(),
    };
    let past = PastBank::read(db).await?;
    let mut entries: BTreeMap<i64, Vec<RecordEntry>> = BTreeMap::new();
    for entry in record::of_kind(db, "attempt").await? {
        entries.entry(entry.subject_id.unwrap_or_default()).or_default().push(entry);
    }
    check_examinations(db, &past, &entries, &mut found).await?;
    check_talks(db, &entries, &mut found).await?;
    watched::check_incidents(db, &entries, &mut found).await?;
    watched::check_extra_times(db, &mut found).await?;
    certified::check_certification(db, &mut found).await?;
    standing::check_standings(db, &mut found).await?;
    check_documents(db, &mut found).await?;
    if !keys_are_on_record(db).await? {
        found.fault("the issuer".to_owned(), "its public keys are not those that were put on record");
    }
    assigned::check_assignments(db, &mut found).await?;
    observed::check_observations(db, &mut found).await?;
    Ok(found)
}

async fn check_examinations(
    db: &impl ConnectionTrait,
    past: &PastBank,
    entries: &BTreeMap<i64, Vec<RecordEntry>>,
    found: &mut RecordChecked,
) -> Result<(), StoreError> {
    let mut everything = Followed::all(db).await?;
    let mut seen = BTreeSet::new();
    for attempt in attempts::examinations(db).await? {
        seen.insert(attempt.id.0);
        let rows = Rows::of(db, attempt.id).await?;
        let about = entries.get(&attempt.id.0).map(Vec::as_slice).unwrap_or_default();
        let mut followed = everything.remove(&attempt.id).unwrap_or_default();
        let says = if rows.is_concluded() {
            found.concluded += 1;
            followed.certificate = certificates::find_of_attempt(db, attempt.id).await?;
            check_concluded(past, &rows, about, &followed, found)
        } else {
            found.open += 1;
            check_open(&rows, about, &followed)
        };
        let terms = watched::differences(&rows, about);
        says.into_iter().chain(terms).for_each(|says| found.fault(format!("attempt {}", attempt.id), says));
    }
    for attempt in everything.keys() {
        let says = "it is said to have led to a proposal or decided about a competence, and is not there";
        found.fault(format!("attempt {attempt}"), says);
    }
    let of_examinations = |deed: &str| deed.starts_with("examination_");
    for (attempt, about) in entries.iter().filter(|(attempt, _)| !seen.contains(*attempt)) {
        if about.iter().any(|entry| of_examinations(&entry.deed)) {
            found.fault(format!("attempt {attempt}"), "it is on record as an examination, and is not there");
        }
    }
    Ok(())
}

/// The entries of a deed.
fn of_deed<'e>(entries: &'e [RecordEntry], deed: &str) -> Vec<&'e RecordEntry> {
    entries.iter().filter(|entry| entry.deed == deed).collect()
}

fn detail(entry: &RecordEntry) -> Value {
    serde_json::from_str(&entry.detail).unwrap_or_default()
}

fn begun_as_on_record(rows: &Rows, about: &[RecordEntry]) -> Option<String> {
    match of_deed(about, "examination_begun").as_slice() {
        [begun] => {
            let wrong = detail(begun)["questions"] != rows.questions.len()
                || begun.at != rows.attempt.started_at
                || begun.actor_id != Some(rows.attempt.person_id);
            wrong
                .then(|| "it did not begin as the record says: person, moment or number of questions differ".to_owned())
        }
        none_or_several => Some(format!("its beginning is on record {} times", none_or_several.len())),
    }
}

fn check_open(rows: &Rows, about: &[RecordEntry], followed: &Followed) -> Vec<String> {
    let mut says: Vec<String> = begun_as_on_record(rows, about).into_iter().collect();
    if !of_deed(about, "examination_graded").is_empty() {
        says.push("it is on record as graded, and is open".to_owned());
    }
    if rows.result.is_some() || !rows.grades.is_empty() || !followed.is_nothing() {
        says.push("it is open, and has grades, a result or decisions".to_owned());
    }
    says
}

fn check_concluded(
    past: &PastBank,
    rows: &Rows,
    about: &[RecordEntry],
    followed: &Followed,
    found: &mut RecordChecked,
) -> Vec<String> {
    let mut says: Vec<String> = begun_as_on_record(rows, about).into_iter().collect();
    let mut again = regrade(rows);
    let concluded = match scheme_of(rows, past) {
        Ok(scheme) => Some((outcome_again(rows, &scheme, &mut again), scheme)),
        Err(missing) => {
            says.push(missing);
            None
        }
    };
    let graded = of_deed(about, "examination_graded");
    let [entry] = graded.as_slice() else {
        says.push(format!("its grading is on record {} times", graded.len()));
        says.append(&mut again.differences);
        return says;
    };
    // Entries from before there were several makings do not say which.
    let making = detail(entry).get("making").map_or(Some(1), Value::as_i64).unwrap_or_default();
    match detail(entry).get("sha256").and_then(Value::as_str) {
        None => found.not_bound += 1,
        Some(bound) if rows.digest(making).is_some_and(|digest| digest == bound) => {}
        Some(_) => says.push(
            "its stored questions, answers, grades or moments are not those that were put on record when it was graded"
                .to_owned(),
        ),
    }
    says.append(&mut again.differences);
    if let Some((outcome, scheme)) = concluded {
        if !says_outcome(&detail(entry), &outcome) {
            says.push("the record tells of another outcome than the grades come to".to_owned());
        }
        let (decided, certificate) = (&followed.qualifications, followed.certificate.as_ref());
        says.extend(decided::differences(rows, &scheme, &again.graded, &outcome, entry.id, decided, certificate));
        says.extend(proposed::differences(
            &Examined { rows, scheme: &scheme, outcome: &outcome, entry, past },
            followed,
        ));
    }
    says
}

/// Whether the entry about the grading says what the outcome is.
fn says_outcome(detail: &Value, outcome: &Outcome) -> bool {
    detail["right"] == outcome.right
        && detail.get("partly").is_none_or(|partly| *partly == outcome.partly)
        && detail["asked"] == outcome.asked
        && detail["passed"] == outcome.passed
        && detail["safety_misses"] == serde_json::json!(outcome.safety_misses)
}

async fn check_talks(
    db: &impl ConnectionTrait,
    entries: &BTreeMap<i64, Vec<RecordEntry>>,
    found: &mut RecordChecked,
) -> Result<(), StoreError> {
    let mut on_record: BTreeMap<i64, Vec<&RecordEntry>> = entries
        .iter()
        .map(|(attempt, about)| (*attempt, of_deed(about, "debrief_held")))
        .filter(|(_, held)| !held.is_empty())
        .collect();
    for talk in debriefs::all(db).await? {
        found.talks += 1;
        let held = on_record.remove(&talk.attempt_id.0).unwrap_or_default();
        let same = |entry: &&RecordEntry| {
            entry.at == talk.held_at
                && entry.actor_id == Some(talk.trainer_id)
                && detail(entry)["note"] == talk.note.as_str()
        };
        if held.len() != 1 || !held.iter().all(same) {
            found.fault(format!("attempt {}", talk.attempt_id), "the talk about it is not what was put on record");
        }
    }
    for attempt in on_record.keys() {
        found.fault(format!("attempt {attempt}"), "a talk about it is on record, and is not there");
    }
    Ok(())
}

async fn check_documents(db: &impl ConnectionTrait, found: &mut RecordChecked) -> Result<(), StoreError> {
    let mut on_record: BTreeMap<i64, Vec<RecordEntry>> = BTreeMap::new();
    for entry in record::of_kind(db, "bank_document").await? {
        on_record.entry(entry.subject_id.unwrap_or_default()).or_default().push(entry);
    }
    for document in bank_documents::every_version(db).await? {
        found.documents += 1;
        let about = format!("{:?} {} version {}", document.kind, document.key, document.version).to_lowercase();
        if sha256(&document.source) != document.sha256 {
            found.fault(about.clone(), "its text is not the one that its digest was made of");
        }
        match on_record.remove(&document.id.0).as_deref() {
            Some([entry]) => {
                let says = detail(entry);
                let other = says["key"] != document.key.as_str() || says["version"] != document.version;
                match says.get("sha256").and_then(Value::as_str) {
                    Some(bound) if bound != sha256(&document.source) => {
                        found.fault(about, "its text is not the one that was put on record");
                    }
                    _ if other => found.fault(about, "the record tells of another document or version"),
                    None => found.documents_not_bound += 1,
                    Some(_) => {}
                }
            }
            several => {
                let times = several.map_or(0, <[RecordEntry]>::len);
                found.fault(about, format!("its coming is on record {times} times"));
            }
        }
    }
    for (document, entries) in on_record {
        let says = entries.first().map(|entry| entry.detail.clone()).unwrap_or_default();
        found.fault(format!("document {document}"), format!("it is on record, and is not there: {says}"));
    }
    Ok(())
}
