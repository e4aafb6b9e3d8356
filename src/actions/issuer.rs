//! The issuer's keys: the one that signs certificates, the public ones that ever did, and the one behind check codes.
//!
//! They are made when first needed, kept in the settings of the database, so that several servers on one database sign with the
//! same key, and each public key is on record. Never gives a secret key away but to sign.

use super::{ActionError, Deeds};
use crate::domain::units::Moment;
use crate::exchange::credential::{SecretKey, controller_document, issuer_of, method_of, signed};
use crate::store::record::{self, NewEntry};
use crate::store::{StoreError, settings, write};
use rand::TryRng as _;
use rand::rngs::SysRng;
use sea_orm::ConnectionTrait;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

/// The name under which the settings keep them.
const SETTING: &str = "issuer";

/// What the record's entries about keys are about.
const SUBJECT: &str = "issuer";

/// As the settings keep them.
#[derive(Clone, Serialize, Deserialize)]
struct Kept {
    /// 32 bytes in hexadecimal.
    code_key: String,
    /// The key that signs, as a Multikey.
    secret: String,
    /// The public keys, the newest first.
    public: Vec<PublicKey>,
}

#[derive(Clone, Serialize, Deserialize)]
struct PublicKey {
    multikey: String,
    made_at: Moment,
}

/// Who signs here.
#[derive(Clone, Debug)]
pub struct Issuer {
    origin: String,
    secret: SecretKey,
    /// Newest first.
    public: Vec<String>,
    made_at: Moment,
    pub(super) code_key: [u8; 32],
}

impl Issuer {
    /// The issuer's name, as in `https://training.example.org/issuer`.
    #[must_use]
    pub fn name(&self) -> String {
        issuer_of(&self.origin)
    }

    /// The document with every public key.
    #[must_use]
    pub fn document(&self) -> Value {
        controller_document(&self.origin, &self.public)
    }

    /// Signs a document that says something since a moment. A key that was made later signs as of its making.
    #[must_use]
    pub fn sign(&self, document: Value, since: Moment) -> Value {
        let method = method_of(&self.origin, &self.public[0]);
        signed(document, &self.secret, &method, since.max(self.made_at))
    }

    /// One with a code key of the test's.
    #[cfg(test)]
    pub(super) fn for_tests(code_key: [u8; 32]) -> Self {
        let secret = SecretKey::from_seed(&[9; 32]);
        let public = vec![secret.public_multikey()];
        Self { origin: "https://training.example.org".to_owned(), secret, public, made_at: Moment(0), code_key }
    }

    fn of_kept(kept: &Kept, origin: &str) -> Result<Self, StoreError> {
        let corrupt = || StoreError::Corrupt("the issuer's keys in the settings cannot be read".to_owned());
        let secret = SecretKey::from_multikey(&kept.secret).ok_or_else(corrupt)?;
        let newest = kept.public.first().ok_or_else(corrupt)?;
        if newest.multikey != secret.public_multikey() {
            return Err(corrupt());
        }
        Ok(Self {
            origin: origin.to_owned(),
            secret,
            public: kept.public.iter().map(|key| key.multikey.clone()).collect(),
            made_at: newest.made_at,
            code_key: bytes(&kept.code_key).ok_or_else(corrupt)?,
        })
    }
}

/// The issuer of this installation; its keys are made when there are none yet.
///
/// # Errors
/// When the store does not answer, or the system gives no random bytes.
pub async fn issuer(deeds: &Deeds) -> Result<Issuer, ActionError> {
    let kept = match read(&deeds.db).await? {
        Some(kept) => kept,
        None => make(deeds).await?,
    };
    Ok(Issuer::of_kept(&kept, &deeds.origin)?)
}

/// Signs with a new key from now on. The old public key stays in the issuer's document, so that what it signed still verifies; the
/// old secret key is forgotten. Gives the new public key.
///
/// # Errors
/// When the store does not answer, or the system gives no random bytes.
pub async fn renew_key(deeds: &Deeds) -> Result<String, ActionError> {
    issuer(deeds).await?;
    let (now, secret) = (deeds.clock.now(), fresh_key()?);
    let public = secret.public_multikey();
    write(&deeds.db, async |tx| {
        // Locks the record's end first: two who renew at once do it one after the other.
        record::append(tx, on_record(now, &public)).await?;
        let mut kept = read(tx).await?.ok_or(StoreError::NotFound)?;
        kept.secret = secret.to_multikey();
        kept.public.insert(0, PublicKey { multikey: public.clone(), made_at: now });
        settings::set(tx, SETTING, &written(&kept)?).await?;
        Ok(public.clone())
    })
    .await
}

/// Whether the public keys are those on record, in their order: whoever changes them in the settings could sign what nobody granted.
pub(super) async fn keys_are_on_record(db: &impl ConnectionTrait) -> Result<bool, StoreError> {
    let told = record::of_kind(db, SUBJECT).await?;
    let told = told.iter().map(|entry| serde_json::from_str::<Value>(&entry.detail).unwrap_or_default());
    let told: Vec<Value> = told.map(|detail| detail["public_key"].clone()).collect();
    let kept = read(db).await?.map(|kept| kept.public).unwrap_or_default();
    Ok(told == kept.iter().rev().map(|key| Value::from(key.multikey.clone())).collect::<Vec<_>>())
}

async fn read(db: &impl ConnectionTrait) -> Result<Option<Kept>, StoreError> {
    let Some(text) = settings::find(db, SETTING).await? else { return Ok(None) };
    // The cause would quote the text, which is secret.
    let kept = serde_json::from_str(&text).map_err(|_| StoreError::Corrupt("the issuer's keys".to_owned()))?;
    Ok(Some(kept))
}

/// Makes the first keys, unless another server has just done so.
async fn make(deeds: &Deeds) -> Result<Kept, ActionError> {
    let (now, secret, code_key) = (deeds.clock.now(), fresh_key()?, random()?);
    let public = secret.public_multikey();
    let kept = Kept {
        code_key: code_key.iter().map(|byte| format!("{byte:02x}")).collect(),
        secret: secret.to_multikey(),
        public: vec![PublicKey { multikey: public.clone(), made_at: now }],
    };
    write(&deeds.db, async |tx| {
        let mine = written(&kept)?;
        if settings::find_or_set(tx, SETTING, &mine).await? == mine {
            record::append(tx, on_record(now, &public)).await?;
        }
        Ok(read(tx).await?.ok_or(StoreError::NotFound)?)
    })
    .await
}

fn on_record(at: Moment, public: &str) -> NewEntry {
    NewEntry {
        at,
        actor_id: None,
        deed: "issuer_key_made".to_owned(),
        subject_kind: SUBJECT.to_owned(),
        subject_id: None,
        detail: json!({ "public_key": public }),
    }
}

fn written(kept: &Kept) -> Result<String, StoreError> {
    serde_json::to_string(kept).map_err(|_| StoreError::Corrupt("the issuer's keys".to_owned()))
}

fn fresh_key() -> Result<SecretKey, ActionError> {
    Ok(SecretKey::from_seed(&random()?))
}

fn random() -> Result<[u8; 32], ActionError> {
    let mut seed = [0_u8; 32];
    SysRng.try_fill_bytes(&mut seed).map_err(|error| ActionError::Randomness(error.to_string()))?;
    Ok(seed)
}

fn bytes(hexadecimal: &str) -> Option<[u8; 32]> {
    let pair = |at: usize| u8::from_str_radix(hexadecimal.get(at..at + 2)?, 16).ok();
    let read: Option<Vec<u8>> = (0..hexadecimal.len()).step_by(2).map(pair).collect();
    read?.try_into().ok()
}
