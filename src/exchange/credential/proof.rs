//! Signing a document with Ed25519 by the cryptosuite `eddsa-jcs-2022`, and checking such a signature.
//!
//! Source: W3C Data Integrity EdDSA Cryptosuites 1.0, section 3.3: the document without its proof and the proof without its
//! value are each made canonical (RFC 8785) and hashed (SHA-256); the hash of the proof and then that of the document are
//! signed (RFC 8032). Never takes a key from the document that it checks.

use super::date_time;
use crate::domain::units::Moment;
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};
use std::fmt;

/// What stands before an Ed25519 public key in a Multikey.
// Source: multicodec table, ed25519-pub 0xed, as a varint.
const PUBLIC: [u8; 2] = [0xed, 0x01];
/// What stands before an Ed25519 secret key in a Multikey.
// Source: multicodec table, ed25519-priv 0x1300, as a varint.
const SECRET: [u8; 2] = [0x80, 0x26];

/// A key that signs. Not printed by `Debug`.
#[derive(Clone)]
pub struct SecretKey(SigningKey);

impl fmt::Debug for SecretKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SecretKey(hidden)")
    }
}

impl SecretKey {
    /// The key of 32 random bytes.
    #[must_use]
    pub fn from_seed(seed: &[u8; 32]) -> Self {
        Self(SigningKey::from_bytes(seed))
    }

    /// Reads one that [`Self::to_multikey`] wrote.
    #[must_use]
    pub fn from_multikey(text: &str) -> Option<Self> {
        bytes_of(text, SECRET).map(|seed| Self::from_seed(&seed))
    }

    /// The key as a Multikey, for the one place that keeps it.
    #[must_use]
    pub fn to_multikey(&self) -> String {
        multikey(SECRET, self.0.as_bytes())
    }

    /// The public key as a Multikey, as in `z6Mk...`.
    #[must_use]
    pub fn public_multikey(&self) -> String {
        multikey(PUBLIC, self.0.verifying_key().as_bytes())
    }
}

fn multikey(prefix: [u8; 2], key: &[u8; 32]) -> String {
    format!("z{}", bs58::encode([&prefix[..], &key[..]].concat()).into_string())
}

fn bytes_of(text: &str, prefix: [u8; 2]) -> Option<[u8; 32]> {
    let decoded = bs58::decode(text.strip_prefix('z')?).into_vec().ok()?;
    decoded.strip_prefix(&prefix)?.try_into().ok()
}

/// The 32 bytes of a public key that is written as a Multikey.
#[must_use]
pub fn public_key_bytes(text: &str) -> Option<[u8; 32]> {
    bytes_of(text, PUBLIC)
}

/// The document with its proof: made at this moment, to be checked with this verification method. The document is an
/// object; anything else comes back as it is.
#[must_use]
pub fn signed(mut document: Value, key: &SecretKey, method: &str, created: Moment) -> Value {
    let mut proof = json!({
        "type": "DataIntegrityProof",
        "cryptosuite": "eddsa-jcs-2022",
        "created": date_time(created),
        "verificationMethod": method,
        "proofPurpose": "assertionMethod",
    });
    if let Some(context) = document.get("@context") {
        proof["@context"] = context.clone();
    }
    let signature = key.0.sign(&to_sign(&document, &proof));
    proof["proofValue"] = format!("z{}", bs58::encode(signature.to_bytes()).into_string()).into();
    if let Some(object) = document.as_object_mut() {
        object.insert("proof".to_owned(), proof);
    }
    document
}

/// Whether the document's proof was made with the secret key of this public one, and nothing was changed since.
#[must_use]
pub fn verifies(document: &Value, public_multikey: &str) -> bool {
    checked(document, public_multikey).is_some()
}

fn checked(document: &Value, public_multikey: &str) -> Option<()> {
    let mut unsigned = document.clone();
    let mut proof = unsigned.as_object_mut()?.remove("proof")?;
    let value = proof.as_object_mut()?.remove("proofValue")?;
    let suite = proof["type"] == "DataIntegrityProof" && proof["cryptosuite"] == "eddsa-jcs-2022";
    // Source: the same section, verification: the proof's context, where it has one, begins the document's.
    let context = proof.get("@context").is_none_or(|context| Some(context) == unsigned.get("@context"));
    if !suite || !context || proof["proofPurpose"] != "assertionMethod" {
        return None;
    }
    let signature = bs58::decode(value.as_str()?.strip_prefix('z')?).into_vec().ok()?;
    let signature = Signature::from_slice(&signature).ok()?;
    let key = VerifyingKey::from_bytes(&public_key_bytes(public_multikey)?).ok()?;
    key.verify_strict(&to_sign(&unsigned, &proof), &signature).ok()
}

/// What is signed: 64 bytes.
fn to_sign(document: &Value, proof: &Value) -> Vec<u8> {
    [proof, document].into_iter().flat_map(|part| Sha256::digest(canonical(part))).collect()
}

/// The one way to write a JSON value (RFC 8785).
fn canonical(value: &Value) -> Vec<u8> {
    // A `Value` has text keys and finite numbers only, so it can always be written.
    serde_json_canonicalizer::to_vec(value).unwrap_or_default()
}

#[cfg(test)]
mod tests;
