//! The published test vectors of the cryptosuite, of canonical JSON and of the key's form; and that nothing else verifies.

use super::*;

// Source: W3C Data Integrity EdDSA Cryptosuites 1.0, appendix B (test vectors), files keyPair.json and eddsa-jcs-2022/*.
const PUBLIC_KEY: &str = "z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2";
const SECRET_KEY: &str = "z3u2en7t5LR2WtQH5PfFqMqwVHBeXouLzo6haApm8XHqvjxq";
const DOCUMENT_HASH: &str = "59b7cb6251b8991add1ce0bc83107e3db9dbbab5bd2c28f687db1a03abc92f19";
const PROOF_HASH: &str = "66ab154f5c2890a140cb8388a22a160454f80575f6eae09e5a097cabe539a1db";
const PROOF_VALUE: &str = "z2HnFSSPPBzR36zdDgK8PbEHeXbR56YF24jwMpt3R1eHXQzJDMWS93FCzpvJpwTWd3GAVFuUfjoJdcnTMuVor51aX";
/// The proof of the same document with the issuer's own address as the key's name, in an earlier edition of the files.
const OTHER_PROOF_VALUE: &str =
    "z63t83Y53KfzJ5ZosfKTnqfMcKB2dmTrfjSaQjeNNjAD5srBowQfmWqeRb8rRjmeEuCBEsddF9LsVogtuTsijJKh4";

/// 24 Feb 2023, 23:36:38 UTC: the vector's `created`.
const CREATED: Moment = Moment(1_677_281_798_000_000);

fn example() -> Value {
    json!({
        "@context": ["https://www.w3.org/ns/credentials/v2", "https://www.w3.org/ns/credentials/examples/v2"],
        "id": "urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33",
        "type": ["VerifiableCredential", "AlumniCredential"],
        "name": "Alumni Credential",
        "description": "A minimum viable example of an Alumni Credential.",
        "issuer": "https://vc.example/issuers/5678",
        "validFrom": "2023-01-01T00:00:00Z",
        "credentialSubject": { "id": "did:example:abcdefgh", "alumniOf": "The School of Examples" },
    })
}

fn key() -> SecretKey {
    SecretKey::from_multikey(SECRET_KEY).expect("the published key")
}

fn hash(value: &Value) -> String {
    crate::exchange::hexadecimal(&Sha256::digest(canonical(value)))
}

#[test]
fn the_published_key_pair_is_one() {
    assert_eq!(key().public_multikey(), PUBLIC_KEY);
    assert_eq!(key().to_multikey(), SECRET_KEY);
    assert!(!format!("{:?}", key()).contains("3u2"), "a secret key is not printed");
}

#[test]
fn the_published_vector_comes_out_byte_by_byte() {
    let method = format!("did:key:{PUBLIC_KEY}#{PUBLIC_KEY}");
    let done = signed(example(), &key(), &method, CREATED);
    assert_eq!(hash(&example()), DOCUMENT_HASH);
    let mut config = done["proof"].clone();
    config.as_object_mut().expect("a proof").remove("proofValue");
    assert_eq!(hash(&config), PROOF_HASH);
    assert_eq!(done["proof"]["proofValue"], PROOF_VALUE);
    assert!(verifies(&done, PUBLIC_KEY));
}

#[test]
fn the_published_vector_with_another_name_of_the_key_comes_out_too() {
    let method = format!("https://vc.example/issuers/5678#{PUBLIC_KEY}");
    let done = signed(example(), &key(), &method, CREATED);
    assert_eq!(done["proof"]["proofValue"], OTHER_PROOF_VALUE);
    assert!(verifies(&done, PUBLIC_KEY));
}

/// Changes the signed example and looks whether it still verifies.
fn check(change: impl Fn(&mut Value)) {
    let mut document = signed(example(), &key(), "https://vc.example/issuer#key", CREATED);
    assert!(verifies(&document, PUBLIC_KEY));
    change(&mut document);
    assert!(!verifies(&document, PUBLIC_KEY), "{document}");
}

#[test]
fn nothing_that_was_changed_verifies() {
    check(|document| document["credentialSubject"]["alumniOf"] = "Another School".into());
    check(|document| document["validUntil"] = "2099-01-01T00:00:00Z".into());
    check(|document| document["@context"] = json!(["https://www.w3.org/ns/credentials/v2"]));
    for (name, value) in [
        ("created", "2024-02-24T23:36:38Z"),
        ("verificationMethod", "https://evil.example/issuer#key"),
        ("proofPurpose", "authentication"),
        ("cryptosuite", "eddsa-rdfc-2022"),
        ("type", "Ed25519Signature2020"),
        ("proofValue", PROOF_VALUE),
        ("proofValue", "z1"),
        ("proofValue", "not base58: 0OIl"),
        ("proofValue", ""),
    ] {
        check(|document| document["proof"][name] = value.into());
    }
    check(|document| document["proof"] = Value::Null);
    check(|document| *document = json!([]));
}

#[test]
fn another_key_does_not_verify() {
    let document = signed(example(), &key(), "https://vc.example/issuer#key", CREATED);
    let other = SecretKey::from_seed(&[7; 32]).public_multikey();
    for public in [other.as_str(), SECRET_KEY, "", "z", "z6Mk"] {
        assert!(!verifies(&document, public), "{public}");
    }
}

#[test]
fn canonical_json_is_that_of_the_rfc() {
    // Source: RFC 8785, section 3.2.2 (input) and 3.2.3 (output).
    let input = r#"{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }"#;
    let output = "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],\
                  \"string\":\"\u{20ac}$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}";
    let value: Value = serde_json::from_str(input).expect("the input");
    assert_eq!(String::from_utf8(canonical(&value)).expect("UTF-8"), output);
}

#[test]
fn names_are_sorted_as_the_rfc_sorts_them() {
    // Source: RFC 8785, section 3.2.3: by UTF-16 code units.
    let input = "{\"\u{20ac}\":\"Euro Sign\",\"\\r\":\"Carriage Return\",\"\u{fb33}\":\"Hebrew Letter Dalet With Dagesh\",\
                 \"1\":\"One\",\"\u{1f600}\":\"Emoji: Grinning Face\",\"\u{80}\":\"Control\",\
                 \"\u{f6}\":\"Latin Small Letter O With Diaeresis\"}";
    let value: Value = serde_json::from_str(input).expect("the input");
    let text = String::from_utf8(canonical(&value)).expect("UTF-8");
    let places = ["Carriage Return", "One", "Control", "Latin Small", "Euro Sign", "Grinning Face", "Hebrew Letter"]
        .map(|name| text.find(name).expect("every name"));
    assert!(places.is_sorted(), "{text}");
}
