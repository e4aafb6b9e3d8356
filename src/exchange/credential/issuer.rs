//! Who issues: an https address of the program, and the document with the public keys that is served there.
//!
//! An address rather than a DID, because Open Badges 3.0 asks every verifier to read keys from HTTP addresses and from no other
//! kind, and because the W3C recommendation on controlled identifiers asks for nothing more. Never holds a secret key.

use serde_json::{Value, json};

/// The issuer's name, which is also where its document stands.
// Source: 1EdTech Open Badges 3.0, "Dereferencing the Public Key": only HTTP URL support is required.
#[must_use]
pub fn issuer_of(origin: &str) -> String {
    format!("{origin}/issuer")
}

/// The name of one of the issuer's keys; it holds the public key itself, so that a reader sees at once which one it is.
// Source: the pattern of W3C Data Integrity EdDSA Cryptosuites 1.0, its example `https://vc.example/issuers/5678#z6Mk...`.
#[must_use]
pub fn method_of(origin: &str, public_multikey: &str) -> String {
    format!("{}#{public_multikey}", issuer_of(origin))
}

/// The issuer's document: every key that ever signed, the newest first.
// Source: W3C Controlled Identifiers 1.0, sections 2.1 (documents) and 2.2.2 (Multikey).
#[must_use]
pub fn controller_document(origin: &str, public_multikeys: &[String]) -> Value {
    let issuer = issuer_of(origin);
    let methods: Vec<String> = public_multikeys.iter().map(|key| method_of(origin, key)).collect();
    let keys = methods
        .iter()
        .zip(public_multikeys)
        .map(|(id, key)| json!({ "id": id, "type": "Multikey", "controller": issuer, "publicKeyMultibase": key }));
    json!({
        "@context": ["https://www.w3.org/ns/cid/v1"],
        "id": issuer,
        "verificationMethod": keys.collect::<Vec<_>>(),
        "assertionMethod": methods,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_stays_in_the_document() {
        let keys = ["z6MkNew".to_owned(), "z6MkOld".to_owned()];
        let document = controller_document("https://training.example.org", &keys);
        assert_eq!(document["id"], "https://training.example.org/issuer");
        let methods = document["assertionMethod"].as_array().unwrap();
        assert_eq!(methods.len(), 2);
        for (key, method) in document["verificationMethod"].as_array().unwrap().iter().zip(methods) {
            assert_eq!(&key["id"], method);
            assert_eq!(key["controller"], document["id"]);
            assert!(method.as_str().unwrap().ends_with(key["publicKeyMultibase"].as_str().unwrap()));
        }
    }
}
