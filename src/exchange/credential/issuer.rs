//! Who issues: a name that stands on the public address (`did:web`), and the document with the public keys behind it.
//!
//! Never holds a secret key.

use serde_json::{Value, json};

/// The issuer's name.
// Source: the did:web method specification of the W3C Credentials Community Group: the host, its colon written as %3A. Its
// document stands at /.well-known/did.json of that host.
#[must_use]
pub fn did_of(origin: &str) -> String {
    let host = origin.split_once("://").map_or(origin, |(_, host)| host);
    format!("did:web:{}", host.replace(':', "%3A"))
}

/// The name of one of the issuer's keys; it holds the public key itself, so that a reader sees at once which one it is.
#[must_use]
pub fn method_of(origin: &str, public_multikey: &str) -> String {
    format!("{}#{public_multikey}", did_of(origin))
}

/// The issuer's document: every key that ever signed, the newest first.
// Source: W3C Decentralized Identifiers 1.0, sections 5.2 and 5.3.2; W3C Controlled Identifiers 1.0, section 2.2.2 (Multikey).
#[must_use]
pub fn controller_document(origin: &str, public_multikeys: &[String]) -> Value {
    let did = did_of(origin);
    let methods: Vec<String> = public_multikeys.iter().map(|key| method_of(origin, key)).collect();
    let keys = methods
        .iter()
        .zip(public_multikeys)
        .map(|(id, key)| json!({ "id": id, "type": "Multikey", "controller": did, "publicKeyMultibase": key }));
    json!({
        "@context": ["https://www.w3.org/ns/did/v1", "https://w3id.org/security/multikey/v1"],
        "id": did,
        "verificationMethod": keys.collect::<Vec<_>>(),
        "assertionMethod": methods,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_is_the_host_with_its_port_written_as_the_method_says() {
        // Source: did:web method specification, the examples of section "Example (did:web method DIDs)".
        assert_eq!(did_of("https://w3c-ccg.github.io"), "did:web:w3c-ccg.github.io");
        assert_eq!(did_of("https://example.com:3000"), "did:web:example.com%3A3000");
    }

    #[test]
    fn every_key_stays_in_the_document() {
        let keys = ["z6MkNew".to_owned(), "z6MkOld".to_owned()];
        let document = controller_document("https://training.example.org", &keys);
        let methods = document["assertionMethod"].as_array().unwrap();
        assert_eq!(methods.len(), 2);
        for (key, method) in document["verificationMethod"].as_array().unwrap().iter().zip(methods) {
            assert_eq!(&key["id"], method);
            assert_eq!(key["controller"], document["id"]);
            assert!(method.as_str().unwrap().ends_with(key["publicKeyMultibase"].as_str().unwrap()));
        }
    }
}
