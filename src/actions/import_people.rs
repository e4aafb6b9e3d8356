//! Bringing people in from a roster: all of them with an invitation each, or none and a list of every bad row.

mod roster;

pub use roster::{COLUMNS, RowProblem};

use super::invite_person::{self, Invitee, inviters_name};
use super::on_record::about_person_with;
use super::{ActionError, Deeds};
use crate::domain::bank::Bank;
use crate::domain::units::Moment;
use crate::store::branches::Branch;
use crate::store::record::NewEntry;
use crate::store::{BranchId, PersonId, StoreError, branches, people, record, write};
use roster::{Entry, alike, problem};
use sea_orm::ConnectionTrait;
use serde_json::json;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry::Vacant;

/// What to do with a branch that a roster names and that is not there.
#[derive(Clone, Debug)]
pub enum UnknownBranches {
    /// Report the row.
    Refuse,
    /// Add the branch, in this time zone.
    Add {
        /// An IANA name.
        time_zone: String,
    },
}

/// What comes of it.
#[derive(Debug, PartialEq, Eq)]
pub enum Import {
    /// Everyone is in, and their letters are in the outbox.
    Done {
        /// How many people.
        people: usize,
        /// The branches that were added.
        branches: Vec<String>,
    },
    /// Nobody was brought in.
    Refused(Vec<RowProblem>),
}

/// Reads a roster and brings everyone in, in one transaction. `by` is who does it; nobody on the command line.
///
/// # Errors
/// When the store does not answer or a letter cannot be written.
pub async fn import_people(
    deeds: &Deeds,
    by: Option<PersonId>,
    text: &str,
    unknown: UnknownBranches,
) -> Result<Import, ActionError> {
    let (entries, mut problems) = roster::read(text);
    problems.extend(against_the_bank(&deeds.bank.now().bank, &entries));
    let now = deeds.clock.now();
    let done = write(&deeds.db, async |tx| {
        let mut known = known_branches(tx).await?;
        problems.extend(against_the_store(tx, &entries, &known, &unknown).await?);
        if !problems.is_empty() {
            // Nothing has been written: an empty transaction ends here.
            return Ok(None);
        }
        let added = add_branches(tx, &entries, &mut known, &unknown).await?;
        let inviter = inviters_name(tx, by).await?;
        let mut added_people = Vec::with_capacity(entries.len());
        for entry in &entries {
            let branch = known.get(&entry.branch.folded()).ok_or(StoreError::NotFound)?;
            let invitee = invitee(entry, branch.id);
            let person = invite_person::add(deeds, tx, &invitee, branch, inviter.as_deref(), now).await?;
            added_people.push((person, serde_json::json!({ "role": entry.role.id(), "branch": branch.id })));
        }
        // Last, because the record's end stays locked for everyone else until this transaction ends.
        let people = added_people.len();
        for (person, detail) in added_people {
            record::append(tx, about_person_with(now, by, "person_invited", person, detail)).await?;
        }
        Ok::<_, ActionError>(Some(Import::Done { people, branches: added }))
    });
    let done = match done.await {
        // Two at the same moment: the database lets one through, and the other looks again.
        Err(ActionError::Store(StoreError::Conflict(_))) => None,
        done => done?,
    };
    if let Some(done) = done {
        deeds.letters.notify_one();
        return Ok(done);
    }
    // A page has two clicks; who types a command twice means it twice.
    if by.is_some() && brought_in_just_now(deeds, &entries, now).await? {
        return Ok(Import::Done { people: entries.len(), branches: Vec::new() });
    }
    if problems.is_empty() {
        problems = found_at_once(deeds, &entries, &unknown).await?;
    }
    problems.sort();
    refuse(deeds, by, &problems).await?;
    Ok(Import::Refused(problems))
}

fn invitee(entry: &Entry, branch: BranchId) -> Invitee {
    Invitee {
        name: entry.name.clone(),
        email: entry.email.clone(),
        branch,
        role: entry.role,
        scheme_key: entry.scheme.clone(),
    }
}

async fn known_branches(db: &impl ConnectionTrait) -> Result<BTreeMap<String, Branch>, StoreError> {
    Ok(branches::list(db).await?.into_iter().map(|branch| (branch.name.to_lowercase(), branch)).collect())
}

/// Whether everyone of a roster came in a moment ago with just these words: by the same click.
async fn brought_in_just_now(deeds: &Deeds, entries: &[Entry], now: Moment) -> Result<bool, StoreError> {
    let known = known_branches(&deeds.db).await?;
    for entry in entries {
        let Some(branch) = known.get(&entry.branch.folded()) else { return Ok(false) };
        if invite_person::added_just_now(&deeds.db, &invitee(entry, branch.id), now).await?.is_none() {
            return Ok(false);
        }
    }
    Ok(!entries.is_empty())
}

/// What stands against a roster since somebody else brought people in at the same moment.
async fn found_at_once(
    deeds: &Deeds,
    entries: &[Entry],
    unknown: &UnknownBranches,
) -> Result<Vec<RowProblem>, StoreError> {
    against_the_store(&deeds.db, entries, &known_branches(&deeds.db).await?, unknown).await
}

/// That a roster was refused is on record, with which columns were wrong, and with no word of what stands in it.
async fn refuse(deeds: &Deeds, by: Option<PersonId>, problems: &[RowProblem]) -> Result<(), ActionError> {
    let wrong = |column: &&str| problems.iter().any(|problem| problem.column == *column);
    let columns: Vec<&str> = COLUMNS.into_iter().filter(wrong).collect();
    let detail = json!({ "problems": problems.len(), "columns": columns });
    let entry = NewEntry {
        at: deeds.clock.now(),
        actor_id: by,
        deed: "roster_refused".to_owned(),
        subject_kind: "roster".to_owned(),
        subject_id: None,
        detail,
    };
    write(&deeds.db, async |tx| {
        record::append(tx, entry.clone()).await?;
        Ok(())
    })
    .await
}

/// What the bank in use has against a row: a scheme that it does not have.
fn against_the_bank(bank: &Bank, entries: &[Entry]) -> Vec<RowProblem> {
    let unknown = |entry: &&Entry| entry.scheme.as_deref().is_some_and(|scheme| bank.scheme(scheme).is_none());
    let ids: Vec<_> = bank.schemes().map(|entry| entry.scheme.id.as_str()).collect();
    let ids = if ids.is_empty() { "none yet".to_owned() } else { ids.join(", ") };
    let said = |entry: &Entry| {
        let scheme = entry.scheme.as_deref().unwrap_or_default();
        let message = format!("there is no scheme \"{scheme}\". The schemes are: {ids}; or leave it empty");
        problem(entry.line, "scheme", message)
    };
    entries.iter().filter(unknown).map(said).collect()
}

/// What the database has against a row: an address that is taken, a branch that is not there.
async fn against_the_store(
    tx: &impl ConnectionTrait,
    entries: &[Entry],
    known: &BTreeMap<String, Branch>,
    unknown: &UnknownBranches,
) -> Result<Vec<RowProblem>, StoreError> {
    let mut problems = Vec::new();
    let here = people::names(tx).await?;
    for entry in entries {
        let at = known.get(&entry.branch.folded()).map(|branch| branch.id);
        if let Some(there) = people::find_by_email_norm(tx, &entry.email.folded()).await? {
            let message = format!("belongs to {} already: take the row out", there.display_name);
            problems.push(problem(entry.line, "email", message));
        } else if at.is_some_and(|at| here.contains(&(at, entry.name.as_str().to_lowercase()))) {
            problems.push(problem(entry.line, "name", alike("among the people")));
        }
        if matches!(unknown, UnknownBranches::Refuse) && !known.contains_key(&entry.branch.folded()) {
            let names: Vec<_> = known.values().map(|branch| branch.name.as_str()).collect();
            let names = if names.is_empty() { "none yet".to_owned() } else { names.join(", ") };
            let message = format!("there is no branch \"{}\". The branches are: {names}", entry.branch);
            problems.push(problem(entry.line, "branch", message));
        }
    }
    Ok(problems)
}

async fn add_branches(
    tx: &impl ConnectionTrait,
    entries: &[Entry],
    known: &mut BTreeMap<String, Branch>,
    unknown: &UnknownBranches,
) -> Result<Vec<String>, StoreError> {
    let UnknownBranches::Add { time_zone } = unknown else { return Ok(Vec::new()) };
    let mut added = Vec::new();
    for entry in entries {
        if let Vacant(place) = known.entry(entry.branch.folded()) {
            let id = branches::insert(tx, entry.branch.as_str(), time_zone).await?;
            place.insert(Branch { id, name: entry.branch.to_string(), time_zone: time_zone.clone() });
            added.push(entry.branch.to_string());
        }
    }
    Ok(added)
}
