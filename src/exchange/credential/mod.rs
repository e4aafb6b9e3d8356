//! A certificate as a signed file: a credential of Open Badges 3.0 on the data model of W3C Verifiable Credentials 2.0.
//!
//! Says what was certified, by whom, from when until when, and where its state is told. Of the holder it says only a
//! salted hash of the mail address. Never holds a name, a score or an answer, and never opens a file.

mod issuer;
mod proof;
mod status;

pub use issuer::{controller_document, issuer_of, method_of};
pub use proof::{SecretKey, public_key_bytes, signed, verifies};
pub use status::{Bits, LIST_LENGTH, status_list};

use crate::domain::units::Moment;
use jiff::{Timestamp, tz::TimeZone};
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};
use uuid::Uuid;

/// The first context of every credential.
// Source: W3C Verifiable Credentials Data Model 2.0, section 4.3.
const CREDENTIALS: &str = "https://www.w3.org/ns/credentials/v2";
/// The context of Open Badges.
// Source: 1EdTech Open Badges 3.0, section on JSON-LD contexts.
const BADGES: &str = "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json";

/// What a credential says.
#[derive(Clone, Debug)]
pub struct Certified<'a> {
    /// The public address of the program, without a slash at its end.
    pub origin: &'a str,
    /// What the issuing organisation is called.
    pub organisation: &'a str,
    /// Where anyone can see whether the certificate is valid; also the credential's name.
    pub check_address: &'a str,
    /// The certificate's place in the status lists.
    pub status_index: u64,
    /// The holder's mail address in the form that is compared.
    pub email: &'a str,
    /// What is hashed with it, so that nobody can try addresses against many credentials at once.
    pub salt: &'a str,
    /// The scheme's word.
    pub scheme: &'a str,
    /// The scheme's version.
    pub scheme_version: i32,
    /// What people call the scheme.
    pub title: &'a str,
    /// What it is for.
    pub says: &'a str,
    /// The competences in words.
    pub competences: &'a [String],
    /// The machine profiles in words.
    pub machines: &'a [String],
    /// From when.
    pub valid_from: Moment,
    /// Until when.
    pub valid_until: Moment,
}

/// A moment as XML Schema writes a `dateTime` in UTC, without fractions.
#[must_use]
pub fn date_time(moment: Moment) -> String {
    let at = Timestamp::from_microsecond(moment.0).unwrap_or(Timestamp::UNIX_EPOCH);
    at.to_zoned_datetime(TimeZone::UTC).strftime("%Y-%m-%dT%H:%M:%SZ").to_string()
}

/// The credential, not yet signed.
#[must_use]
pub fn credential(of: &Certified<'_>) -> Value {
    json!({
        "@context": [CREDENTIALS, BADGES],
        "id": of.check_address,
        "type": ["VerifiableCredential", "OpenBadgeCredential"],
        "name": of.title,
        "issuer": {
            "id": issuer_of(of.origin),
            "type": ["Profile"],
            "name": of.organisation,
            "url": of.origin,
        },
        "validFrom": date_time(of.valid_from),
        "validUntil": date_time(of.valid_until),
        "credentialSubject": {
            "type": ["AchievementSubject"],
            "identifier": [{
                "type": "IdentityObject",
                "hashed": true,
                "identityHash": identity_hash(of.email, of.salt),
                "identityType": "emailAddress",
                "salt": of.salt,
            }],
            "achievement": achievement(of),
        },
        "credentialStatus": status::entry(of.origin, of.status_index),
    })
}

fn achievement(of: &Certified<'_>) -> Value {
    let name = format!("{}/schemes/{}/{}", of.origin, of.scheme, of.scheme_version);
    let mut narrative = format!(
        "An examination was passed, and somebody who did not train the holder decided. Competences: {}.",
        of.competences.join("; ")
    );
    if !of.machines.is_empty() {
        narrative.push_str(&format!(" Machine profiles: {}.", of.machines.join("; ")));
    }
    narrative.push_str(" At the machine, the operator's manual, local codes and licensed practice decide.");
    json!({
        // The same scheme and version have the same name for ever: a name-based UUID (RFC 9562, version 5).
        "id": format!("urn:uuid:{}", Uuid::new_v5(&Uuid::NAMESPACE_URL, name.as_bytes())),
        "type": ["Achievement"],
        "achievementType": "Certification",
        "name": of.title,
        "description": of.says,
        "version": of.scheme_version.to_string(),
        "criteria": { "narrative": narrative },
    })
}

/// The holder's address, hashed with the salt behind it.
// Source: 1EdTech Open Badges 3.0, `IdentityHash`: the algorithm's name, a dollar sign, the hash of identity and salt in
// hexadecimal.
#[must_use]
pub fn identity_hash(email: &str, salt: &str) -> String {
    let hash = Sha256::new().chain_update(email.as_bytes()).chain_update(salt.as_bytes()).finalize();
    format!("sha256${}", crate::exchange::hexadecimal(&hash))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_hashed_as_the_standard_says() {
        // Source: 1EdTech Open Badges 3.0, derived type IdentityHash: its example.
        let example = "sha256$b5809d8a92f8858436d7e6b87c12ebc0ae1eac4baecc2c0b913aee2c922ef399";
        assert_eq!(identity_hash("a@example.com", "Kosher"), example);
    }

    #[test]
    fn a_moment_is_written_without_fractions_in_utc() {
        // Source: XML Schema 1.1 part 2, dateTime; the moment is that of the cryptosuite's test vector.
        assert_eq!(date_time(Moment(1_677_281_798_999_999)), "2023-02-24T23:36:38Z");
    }
}
