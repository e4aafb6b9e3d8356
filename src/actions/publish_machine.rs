//! Publishing a machine profile: a new version, after its author has seen what it changes.
//!
//! A published version is never changed. Nothing is published that the profile's reader does not find whole, and nothing
//! whose effect on the questions in use now has not been shown.

use super::load_bank::{read_back, refresh_bank, sha256};
pub use super::publish_version::Published;
use super::publish_version::{By, Checked, insert_version, newest_version, overtaken_at_once};
use super::record_trigger::{Happened, insert_trigger};
use super::{ActionError, Deeds};
use crate::domain::aftertreatment::profile::Profile;
use crate::domain::bank::effect::Effect;
use crate::domain::bank::{Bank, BankDocument, DocumentKind};
use crate::domain::certification::trigger::{Kind, MachineVersion};
use crate::domain::document::{Document, Problem};
use crate::domain::units::{Moment, TemperatureUnit};
use crate::store::bank_documents;
use crate::store::certificates::Certificate;
use crate::store::qualifications::{Qualification, QualificationOutcome, standing};
use crate::store::read::matrix::{MatrixFilter, MatrixRow, matrix};
use crate::store::{AttemptId, PersonId, write};
use sea_orm::ConnectionTrait;
use std::collections::BTreeMap;

/// How many questions of each template are compared; chosen by us: a change that moves one question in twenty is seen
/// with 87 % certainty in each template, and a whole bank takes seconds.
pub const SEEDS: u64 = 40;

/// The id that a machine cannot have: the address of the page for a new one.
const TAKEN: &str = "new";

/// A profile as its author wrote it.
#[derive(Clone, Copy, Debug)]
pub struct Draft<'t> {
    /// The machine's id; nothing for a new machine, whose id stands in its text.
    pub key: Option<&'t str>,
    /// The version that the author started from; 0 for a new machine.
    pub base: u32,
    /// The text.
    pub text: &'t str,
}

/// What a change does.
#[derive(Debug)]
pub struct Change {
    /// To the questions.
    pub effect: Effect,
    /// Who holds a certificate for this machine as it was until now.
    pub certified: Vec<CertifiedOn>,
    /// What [`publish_machine`] wants to be given back: this text's effect on this bank has been shown.
    pub seen: String,
}

/// Somebody who holds a certificate with a machine in its scope.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CertifiedOn {
    /// Who.
    pub name: String,
    /// Where they belong.
    pub branch: String,
    /// The competences that they hold by such a certificate.
    pub competences: Vec<String>,
    /// The oldest version of the profile in its scope.
    pub machine_version: i32,
    /// When the first of these certificates ends.
    pub until: Option<Moment>,
}

/// What comes of asking what a change does.
#[derive(Debug)]
pub enum LookedAhead {
    /// This.
    Change(Change),
    /// Nothing: the text has problems.
    Problems(Vec<Problem>),
}

/// What comes of pressing publish.
#[derive(Debug)]
pub enum Pressed {
    /// What comes of publishing.
    Done {
        /// The machine's id.
        machine: String,
        /// Whether there is a new version.
        published: Published,
    },
    /// The text has problems; nothing was published.
    Problems(Vec<Problem>),
    /// What was shown before is not what this text does to the bank in use now; nothing was published.
    NotSeen(Change),
}

/// The id of the machine, or everything that is wrong with the text.
///
/// # Errors
/// Every problem, each with its line.
pub fn machine_of(bank: &Bank, draft: Draft<'_>) -> Result<String, Vec<Problem>> {
    let file = draft.key.unwrap_or("the new machine");
    let profile = Profile::read(file, draft.text)?;
    let id = profile.id;
    let problem = match draft.key {
        Some(key) if key != id => format!("the id of a machine never changes; write \"{key}\""),
        None if bank.machine(&id).is_some() => format!("\"{id}\" is another machine's id; give this one its own"),
        _ if id == TAKEN => format!("\"{id}\" is an address of this program; take another"),
        _ => return Ok(id),
    };
    let line = Document::parse(file, draft.text).root().line_of("id");
    Err(vec![Problem::new(file, line, "id", problem)])
}

/// What a profile would change if it were published now.
///
/// # Errors
/// When the store does not answer.
pub async fn look_ahead(deeds: &Deeds, draft: Draft<'_>, unit: TemperatureUnit) -> Result<LookedAhead, ActionError> {
    let id = match machine_of(&deeds.bank.now().bank, draft) {
        Ok(id) => id,
        Err(problems) => return Ok(LookedAhead::Problems(problems)),
    };
    let newest = bank_documents::newest_id(&deeds.db).await?;
    let rows = bank_documents::all_latest_published(&deeds.db).await?;
    let documents: Vec<BankDocument> = rows.into_iter().map(read_back).collect();
    let certified = certified_on(&deeds.db, &id, deeds.clock.now()).await?.into_iter().map(|(_, of)| of).collect();
    let seen = token(draft.text, newest);
    let text = draft.text.to_owned();
    // Some thousand questions: a core's work for a moment, in which others must be served.
    let effect = tokio::task::spawn_blocking(move || effect(documents, id, text, unit)).await;
    let effect = effect.map_err(|_| ActionError::Busy("the look at a profile's effect was broken off"))?;
    Ok(LookedAhead::Change(Change { effect, certified, seen }))
}

fn effect(mut documents: Vec<BankDocument>, id: String, text: String, unit: TemperatureUnit) -> Effect {
    let (before, _) = Bank::read(&documents);
    let version = before.machine(&id).map_or(1, |machine| machine.version + 1);
    documents.retain(|document| !(document.kind == DocumentKind::Machine && document.key == id));
    documents.push(BankDocument { kind: DocumentKind::Machine, key: id.clone(), version, file: id.clone(), text });
    let (after, broken) = Bank::read(&documents);
    Effect::of(&before, &after, &broken, &id, SEEDS, unit)
}

/// Publishes a profile, if `seen` is from a look at what this text does to the bank as it is now.
///
/// # Errors
/// When the store does not answer.
pub async fn publish_machine(
    deeds: &Deeds,
    trainer: PersonId,
    draft: Draft<'_>,
    seen: &str,
    unit: TemperatureUnit,
) -> Result<Pressed, ActionError> {
    if let Some(before) = published_before(deeds, trainer, draft).await? {
        return Ok(before);
    }
    let id = match machine_of(&deeds.bank.now().bank, draft) {
        Ok(id) => id,
        Err(problems) => return Ok(Pressed::Problems(problems)),
    };
    let versions = bank_documents::versions(&deeds.db, bank_documents::DocumentKind::Machine, &id).await?;
    let newest = newest_version(versions.first());
    let unseen = seen != token(draft.text, bank_documents::newest_id(&deeds.db).await?);
    // Who is overtaken must see the other's text before anything else.
    if unseen && newest == draft.base {
        return Ok(match look_ahead(deeds, draft, unit).await? {
            LookedAhead::Change(change) => Pressed::NotSeen(change),
            LookedAhead::Problems(problems) => Pressed::Problems(problems),
        });
    }
    let checked = Checked {
        kind: DocumentKind::Machine,
        key: &id,
        base: draft.base,
        text: draft.text,
        deed: "machine_published",
    };
    let moves_keys = moves_keys(deeds, draft.text, &id, unit).await?;
    let published = publish_with_refreshers(deeds, trainer, checked, moves_keys).await?;
    if let (Published::Overtaken(_), Some(before)) = (&published, published_before(deeds, trainer, draft).await?) {
        return Ok(before);
    }
    Ok(Pressed::Done { machine: id, published })
}

/// What the same click published before: the version after the one that it began from, its author's own, with this very text.
async fn published_before(deeds: &Deeds, trainer: PersonId, draft: Draft<'_>) -> Result<Option<Pressed>, ActionError> {
    let of_text = || Profile::read("the new machine", draft.text).ok().map(|profile| profile.id);
    let Some(machine) = draft.key.map(str::to_owned).or_else(of_text) else { return Ok(None) };
    let versions = bank_documents::versions(&deeds.db, bank_documents::DocumentKind::Machine, &machine).await?;
    let version = draft.base + 1;
    let own = versions.first().is_some_and(|newest| {
        newest_version(Some(newest)) == version && newest.author_id == Some(trainer) && newest.source == draft.text
    });
    Ok(own.then_some(Pressed::Done { machine, published: Published::Version(version) }))
}

/// Whether a text gives the same situation another right answer somewhere in the bank. Only where somebody may be touched.
async fn moves_keys(deeds: &Deeds, text: &str, id: &str, unit: TemperatureUnit) -> Result<bool, ActionError> {
    if certified_on(&deeds.db, id, deeds.clock.now()).await?.is_empty() {
        return Ok(false);
    }
    let rows = bank_documents::all_latest_published(&deeds.db).await?;
    let documents: Vec<BankDocument> = rows.into_iter().map(read_back).collect();
    let (id, text) = (id.to_owned(), text.to_owned());
    let effect = tokio::task::spawn_blocking(move || effect(documents, id, text, unit)).await;
    let effect = effect.map_err(|_| ActionError::Busy("the look at a profile's effect was broken off"))?;
    Ok(effect.changed.iter().any(|template| template.same_situation > 0))
}

/// Publishes a profile and, when it moves keys, writes down in the same transaction that those who are certified on an
/// older version need a refresher.
async fn publish_with_refreshers(
    deeds: &Deeds,
    trainer: PersonId,
    checked: Checked<'_>,
    moves_keys: bool,
) -> Result<Published, ActionError> {
    let now = deeds.clock.now();
    let by = By { author: trainer, actor: trainer, detail: serde_json::json!({ "moves_keys": moves_keys }) };
    let published = write(&deeds.db, async |tx| {
        let published = insert_version(tx, now, &by, &checked).await?;
        let Published::Version(version) = published else { return Ok(published) };
        let version = i32::try_from(version).unwrap_or(i32::MAX);
        if moves_keys {
            for (person, on) in certified_on(tx, checked.key, now).await? {
                if on.machine_version < version {
                    changed_machine(tx, trainer, person, checked.key, version, now).await?;
                }
            }
        }
        Ok(published)
    });
    let done = match published.await {
        Err(error) => overtaken_at_once(error, checked.base)?,
        Ok(done) => done,
    };
    refresh_bank(deeds).await?;
    Ok(done)
}

async fn changed_machine(
    tx: &impl ConnectionTrait,
    trainer: PersonId,
    person: PersonId,
    machine: &str,
    version: i32,
    now: Moment,
) -> Result<(), ActionError> {
    let happened = Happened {
        person,
        kind: Kind::ChangedMachine,
        machine: Some(MachineVersion { machine: machine.to_owned(), version }),
        text: &format!("Version {version} of the profile of {machine} answers some situations otherwise."),
        key: &format!("{machine} {version}"),
    };
    insert_trigger(tx, trainer, &happened, now).await?;
    Ok(())
}

/// A text and the bank it was looked at with.
fn token(text: &str, newest_document: i64) -> String {
    format!("{newest_document}-{}", sha256(text))
}

/// Who holds now a certificate with a machine in its scope, by branch and name.
async fn certified_on(
    db: &impl ConnectionTrait,
    machine: &str,
    now: Moment,
) -> Result<Vec<(PersonId, CertifiedOn)>, ActionError> {
    let people = matrix(db, &MatrixFilter::default()).await?;
    Ok(people.into_iter().filter_map(|row| Some((row.person_id, certified(row, machine, now)?))).collect())
}

fn certified(row: MatrixRow, machine: &str, now: Moment) -> Option<CertifiedOn> {
    let in_scope = |of: &Certificate| {
        let on = of.entry.machines.iter().find(|on| on.machine == machine)?;
        Some((of.entry.attempt_id, on.version))
    };
    let asked: BTreeMap<AttemptId, i32> = row.certification.certificates.iter().filter_map(in_scope).collect();
    let held = |competence: &str, entries: &Vec<Qualification>| {
        let passed = entries.iter().filter(|found| found.entry.outcome == QualificationOutcome::Qualified);
        let last = passed.max_by_key(|found| found.id)?;
        let on = asked
            .get(&last.entry.attempt_id)
            .filter(|_| standing(entries, &row.certification, competence, now).is_qualified())?;
        Some((*on, last.entry.valid_until))
    };
    let held: Vec<(String, (i32, Option<Moment>))> = row
        .cells
        .iter()
        .filter_map(|(competence, entries)| Some((competence.clone(), held(competence, entries)?)))
        .collect();
    let machine_version = held.iter().map(|(_, (version, _))| *version).min()?;
    Some(CertifiedOn {
        name: row.display_name,
        branch: row.branch_name,
        machine_version,
        until: held.iter().filter_map(|(_, (_, until))| *until).min(),
        competences: held.into_iter().map(|(competence, _)| competence).collect(),
    })
}
