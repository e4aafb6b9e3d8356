//! The record: what was done, by whom, each entry chained to the one before by its SHA-256.
//!
//! Never changes or removes an entry, and the database refuses both; what was wrong is superseded by a new entry.
//! The chain shows whether somebody got round that. It cannot show a forger who rewrites every later entry *and* the
//! chain's end: keep the last hash of each day somewhere else to show that too.

use super::{
    PersonId, RecordEntryId, StoreError,
    entity::{record_entry, record_head},
};
use crate::domain::units::Moment;
use sea_orm::{ActiveValue::Set, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect, prelude::*};
use sha2::{Digest, Sha256};

/// How many entries are read at once.
const ENTRIES_AT_ONCE: u64 = 500;

/// The hash before the first entry.
const BEFORE_THE_FIRST: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// What is to be put on record.
#[derive(Clone, Debug)]
pub struct NewEntry {
    /// Now.
    pub at: Moment,
    /// Who did it; nobody when the program did it by itself.
    pub actor_id: Option<PersonId>,
    /// What was done, such as `attempt_submitted`.
    pub deed: String,
    /// What it was done to, such as `attempt`.
    pub subject_kind: String,
    /// Its number, where it has one.
    pub subject_id: Option<i64>,
    /// What else must be known years later.
    pub detail: serde_json::Value,
}

/// An entry of the record.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordEntry {
    /// Its number.
    pub id: RecordEntryId,
    /// When it was done.
    pub at: Moment,
    /// Who did it.
    pub actor_id: Option<PersonId>,
    /// What was done.
    pub deed: String,
    /// What it was done to.
    pub subject_kind: String,
    /// Its number.
    pub subject_id: Option<i64>,
    /// What else was put on record, as JSON.
    pub detail: String,
    /// The hash of the entry before.
    pub prev_hash: String,
    /// The hash of this entry.
    pub hash: String,
}

/// What was found when the chain was followed from end to end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verification {
    /// Every link holds.
    Whole {
        /// How many entries there are.
        entries: i64,
        /// The hash of the last one, to be kept elsewhere.
        last_hash: String,
    },
    /// The first entry that does not fit.
    Broken {
        /// Which entry.
        entry: RecordEntryId,
        /// In what way.
        fault: ChainFault,
    },
    /// Every link holds, but a head that was written down earlier is the hash of no entry: the chain is another one than
    /// then, or its last entries are gone.
    HeadMissing {
        /// The head that was written down.
        head: String,
        /// How many entries there are.
        entries: i64,
    },
    /// Every link holds, but the last entries are gone.
    CutShort {
        /// How many there are.
        found: i64,
        /// How many there were.
        expected: i64,
    },
}

/// In what way an entry does not fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChainFault {
    /// It does not follow on the entry before it: one was removed, put in, or moved.
    DoesNotFollow,
    /// It does not say what it said when it was written.
    Changed,
}

impl From<record_entry::Model> for RecordEntry {
    fn from(row: record_entry::Model) -> Self {
        Self {
            id: row.id,
            at: row.at.into(),
            actor_id: row.actor_id,
            deed: row.deed,
            subject_kind: row.subject_kind,
            subject_id: row.subject_id,
            detail: row.detail,
            prev_hash: row.prev_hash,
            hash: row.hash,
        }
    }
}

impl RecordEntry {
    /// SHA-256 over every field, each with its length before it, so that no two different entries read alike.
    fn computed_hash(&self) -> String {
        let mut hasher = Sha256::new();
        let mut add = |field: &[u8]| {
            hasher.update((field.len() as u64).to_be_bytes());
            hasher.update(field);
        };
        add(b"sootmark record entry 1");
        add(self.prev_hash.as_bytes());
        add(&self.at.0.to_be_bytes());
        add(&self.actor_id.map_or_else(Vec::new, |actor| actor.0.to_be_bytes().to_vec()));
        add(self.deed.as_bytes());
        add(self.subject_kind.as_bytes());
        add(&self.subject_id.map_or_else(Vec::new, |subject| subject.to_be_bytes().to_vec()));
        add(self.detail.as_bytes());
        hasher.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

/// Puts a deed on record, in the deed's own transaction ([`super::write()`]). The chain's end stays locked until then.
///
/// # Errors
/// Those of every write.
pub async fn append(db: &impl ConnectionTrait, new: NewEntry) -> Result<RecordEntryId, StoreError> {
    let head = record_head::Entity::find_by_id(1).lock_exclusive().one(db).await?.ok_or_else(no_head)?;
    let mut entry = RecordEntry {
        id: RecordEntryId(0),
        at: new.at,
        actor_id: new.actor_id,
        deed: new.deed,
        subject_kind: new.subject_kind,
        subject_id: new.subject_id,
        detail: new.detail.to_string(),
        prev_hash: head.hash,
        hash: String::new(),
    };
    entry.hash = entry.computed_hash();
    let end = record_head::ActiveModel { id: Set(1), hash: Set(entry.hash.clone()), entries: Set(head.entries + 1) };
    let row = record_entry::ActiveModel {
        at: Set(entry.at.into()),
        actor_id: Set(entry.actor_id),
        deed: Set(entry.deed),
        subject_kind: Set(entry.subject_kind),
        subject_id: Set(entry.subject_id),
        detail: Set(entry.detail),
        prev_hash: Set(entry.prev_hash),
        hash: Set(entry.hash),
        ..Default::default()
    };
    let id = record_entry::Entity::insert(row).exec(db).await?.last_insert_id;
    record_head::Entity::update(end).exec(db).await?;
    Ok(id)
}

fn no_head() -> StoreError {
    StoreError::Corrupt("record_head has no row".to_owned())
}

/// Follows the chain from its first entry to its end and gives the first fault. Others may append meanwhile.
///
/// # Errors
/// Those of every query.
pub async fn verify(db: &impl ConnectionTrait) -> Result<Verification, StoreError> {
    verify_with(db, &[]).await
}

/// The same, and each of `heads`, which were written down earlier, must be the hash of an entry: whoever rewrites the
/// chain or cuts it short, its end included, is found by that and by nothing else.
///
/// # Errors
/// Those of every query.
pub async fn verify_with(db: &impl ConnectionTrait, heads: &[String]) -> Result<Verification, StoreError> {
    let mut missing: Vec<&String> = heads.iter().filter(|head| *head != BEFORE_THE_FIRST).collect();
    let head = record_head::Entity::find_by_id(1).one(db).await?.ok_or_else(no_head)?;
    let (mut entries, mut last_hash, mut last_id) = (0_i64, BEFORE_THE_FIRST.to_owned(), RecordEntryId(i64::MIN));
    let mut head_seen = head.entries == 0 && head.hash == last_hash;
    loop {
        let after = record_entry::Entity::find().filter(record_entry::Column::Id.gt(last_id));
        let rows = after.order_by_asc(record_entry::Column::Id).limit(ENTRIES_AT_ONCE).all(db).await?;
        if rows.is_empty() {
            break;
        }
        for entry in rows.into_iter().map(RecordEntry::from) {
            if entry.prev_hash != last_hash {
                return Ok(Verification::Broken { entry: entry.id, fault: ChainFault::DoesNotFollow });
            }
            if entry.computed_hash() != entry.hash {
                return Ok(Verification::Broken { entry: entry.id, fault: ChainFault::Changed });
            }
            entries += 1;
            head_seen |= entries == head.entries && entry.hash == head.hash;
            missing.retain(|wanted| **wanted != entry.hash);
            (last_hash, last_id) = (entry.hash, entry.id);
        }
    }
    Ok(match missing.first() {
        _ if !head_seen => Verification::CutShort { found: entries, expected: head.entries },
        Some(head) => Verification::HeadMissing { head: (*head).clone(), entries },
        None => Verification::Whole { entries, last_hash },
    })
}

/// What is on record about all things of one kind, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn of_kind(db: &impl ConnectionTrait, subject_kind: &str) -> Result<Vec<RecordEntry>, StoreError> {
    let own = record_entry::Entity::find().filter(record_entry::Column::SubjectKind.eq(subject_kind));
    let rows = own.order_by_asc(record_entry::Column::Id).all(db).await?;
    Ok(rows.into_iter().map(RecordEntry::from).collect())
}

/// What is on record about one thing, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn of_subject(
    db: &impl ConnectionTrait,
    subject_kind: &str,
    subject_id: i64,
) -> Result<Vec<RecordEntry>, StoreError> {
    let rows = record_entry::Entity::find()
        .filter(record_entry::Column::SubjectKind.eq(subject_kind))
        .filter(record_entry::Column::SubjectId.eq(subject_id))
        .order_by_asc(record_entry::Column::Id)
        .all(db)
        .await?;
    Ok(rows.into_iter().map(RecordEntry::from).collect())
}

/// What a person did that is on record, oldest first.
///
/// # Errors
/// Those of every query.
pub async fn by_actor(db: &impl ConnectionTrait, actor: PersonId) -> Result<Vec<RecordEntry>, StoreError> {
    let own = record_entry::Entity::find().filter(record_entry::Column::ActorId.eq(actor));
    let rows = own.order_by_asc(record_entry::Column::Id).all(db).await?;
    Ok(rows.into_iter().map(RecordEntry::from).collect())
}
