//! The signed file of a real run of the program, verified by `verify.py`, which shares nothing with the program but the standards.

use super::{certified, change, check_path};
use crate::support::tools::{goes_without, tool};
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};
use sootmark::actions::anonymise_person::{Anonymised, anonymise_person};
use sootmark::actions::issuer::renew_key;
use sootmark::domain::certification::certificate::EventKind;
use sootmark::domain::people::{EmailAddress, Role};
use std::path::Path;
use tempfile::TempDir;

/// Files for the verifier.
struct Files(TempDir);

impl Files {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn keep(&self, name: &str, text: &str) -> String {
        let path = self.0.path().join(name);
        std::fs::write(&path, text).expect("written");
        path.to_str().expect("UTF-8").to_owned()
    }

    /// What the verifier says of an issuer's document, a signed file and status lists; nothing when there is no Python.
    fn verified(&self, texts: &[&str]) -> Option<Result<String, String>> {
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/certificate/verify.py");
        let mut arguments = vec![script.to_str().expect("UTF-8").to_owned()];
        arguments.extend(texts.iter().enumerate().map(|(at, text)| self.keep(&format!("{at}.json"), text)));
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        // Python may be there without its library for Ed25519: then the verifier cannot run either.
        let library = tool("python3", &["-c", "import cryptography"])?;
        if !library.status.success() {
            goes_without("Python's cryptography", &String::from_utf8_lossy(&library.stderr));
            return None;
        }
        let output = tool("python3", &arguments)?;
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        Some(if output.status.success() { Ok(text(&output.stdout)) } else { Err(text(&output.stderr)) })
    }
}

/// Looks at what the verifier says, where there is one.
fn check(said: Option<Result<String, String>>, expected: &str) {
    if let Some(said) = said {
        assert_eq!(said, Ok(expected.to_owned()));
    }
}

#[tokio::test]
async fn an_independent_verifier_accepts_it_and_sees_what_became_of_it() {
    let (app, mut ines, number) = certified().await;
    let reply = ines.get(&format!("/record/certificates/{number}/signed-file")).await;
    assert_eq!((reply.status, reply.header("content-type")), (200, Some("application/vc")));
    let name = format!("attachment; filename=\"certificate-{number}.json\"");
    assert_eq!(reply.header("content-disposition"), Some(name.as_str()));
    let mut anyone = app.browser();
    let keys = anyone.get("/issuer").await;
    assert_eq!((keys.status, keys.header("access-control-allow-origin")), (200, Some("*")));
    let files = Files::new();
    check(files.verified(&[&keys.body, &reply.body]), "verified\nFirst day on site\n");

    for (kind, said) in [
        (None, ""),
        (Some(EventKind::Suspended), "suspension\n"),
        (Some(EventKind::Reinstated), ""),
        (Some(EventKind::Withdrawn), "suspension\n"),
    ] {
        if let Some(kind) = kind {
            change(&app, number, kind).await;
        }
        let list = anyone.get("/status/0").await;
        assert_eq!((list.status, list.header("cache-control")), (200, Some("public, max-age=300")));
        let told = files.verified(&[&keys.body, &reply.body, &list.body]);
        check(told, &format!("verified\nFirst day on site\n{said}"));
    }
    for nothing in ["/status/1", "/status/-1", "/status/x", "/status/99999999999999999999"] {
        assert_eq!(anyone.get(nothing).await.status, 404, "{nothing}");
    }
    app.stop().await;
}

#[tokio::test]
async fn a_file_that_was_changed_is_refused() {
    let (app, mut ines, number) = certified().await;
    let reply = ines.get(&format!("/record/certificates/{number}/signed-file")).await;
    let keys = app.browser().get("/issuer").await.body;
    let whole: Value = serde_json::from_str(&reply.body).expect("JSON");
    let files = Files::new();
    for (pointer, value) in [
        ("/validUntil", json!("2099-01-01T00:00:00Z")),
        ("/name", json!("Service technician")),
        ("/credentialSubject/achievement/criteria/narrative", json!("Everything.")),
        ("/credentialSubject/identifier/0/salt", json!("another")),
        ("/credentialStatus/statusListIndex", json!("5")),
        ("/issuer/id", json!("https://elsewhere.example/issuer")),
        ("/proof/created", json!("2020-01-01T00:00:00Z")),
        ("/proof/verificationMethod", json!("https://elsewhere.example/issuer#key")),
        ("/proof/proofValue", json!("z1")),
    ] {
        let mut changed = whole.clone();
        let place = changed.pointer_mut(pointer).expect(pointer);
        assert_ne!(*place, value, "{pointer}");
        *place = value;
        let said = files.verified(&[&keys, &changed.to_string()]);
        assert!(said.is_none_or(|said| said.is_err_and(|told| told.starts_with("not verified"))), "{pointer}");
    }
    // Written anew with other spaces and another order it is the same certificate.
    check(files.verified(&[&keys, &whole.to_string()]), "verified\nFirst day on site\n");
    app.stop().await;
}

#[tokio::test]
async fn after_a_new_key_what_the_old_one_signed_still_verifies() {
    let (app, mut ines, number) = certified().await;
    let path = format!("/record/certificates/{number}/signed-file");
    let before = ines.get(&path).await.body;
    let saved = app.browser().get("/issuer").await.body;
    app.clock.advance(3600);
    renew_key(&app.deeds).await.expect("a new key");
    let after = ines.get(&path).await.body;
    assert_ne!(before, after);
    let served = app.browser().get("/issuer").await.body;
    let files = Files::new();
    let right = "verified\nFirst day on site\n";
    check(files.verified(&[&served, &before]), right);
    check(files.verified(&[&served, &after]), right);
    check(files.verified(&[&saved, &before]), right);
    let said = files.verified(&[&saved, &after]);
    assert!(said.is_none_or(|said| said.is_err()), "keys saved before do not know the new one");
    app.stop().await;
}

#[tokio::test]
async fn who_was_made_anonymous_is_in_neither_form_any_more() {
    let (app, mut ines, number) = certified().await;
    let own = format!("/record/certificates/{number}/signed-file");
    let before: Value = serde_json::from_str(&ines.get(&own).await.body).expect("JSON");
    let public = check_path(&mut ines, number).await;
    let address = EmailAddress::parse("ines.varga@example.org").expect("an address");
    let done = anonymise_person(&app.deeds, &address).await.expect("the store");
    assert!(matches!(done, Anonymised::Done { .. }), "{done:?}");
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let reply = manager.get(&format!("/decisions/certificates/{number}/signed-file")).await;
    let after: Value = serde_json::from_str(&reply.body).expect("JSON");
    let hash = |file: &Value| file.pointer("/credentialSubject/identifier/0/identityHash").cloned().expect("a hash");
    assert_ne!(hash(&before), hash(&after), "the old address is not hashed in it");
    assert_eq!(before["id"], after["id"], "the paper leads where it led");
    assert!(app.browser().get(&public).await.text().contains("This certificate is valid."));
    let pdf = manager.get(&format!("/decisions/certificates/{number}/pdf")).await;
    let folder = Files::new();
    let path = folder.0.path().join("certificate.pdf");
    std::fs::write(&path, pdf.bytes).expect("written");
    if let Some(output) = tool("pdftotext", &[path.to_str().expect("UTF-8"), "-"]) {
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        assert!(text.contains("Person ") && !text.contains("Ines") && !text.contains("Varga"), "{text}");
    }
    app.stop().await;
}

#[tokio::test]
async fn it_says_what_the_standard_asks_for_and_nothing_more_about_its_holder() {
    let (app, mut ines, number) = certified().await;
    let text = ines.get(&format!("/record/certificates/{number}/signed-file")).await.body;
    let file: Value = serde_json::from_str(&text).expect("JSON");
    // Source: 1EdTech Open Badges 3.0, AchievementCredential: what is required of it.
    assert_eq!(
        file["@context"],
        json!(["https://www.w3.org/ns/credentials/v2", "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json"])
    );
    assert_eq!(file["type"], json!(["VerifiableCredential", "OpenBadgeCredential"]));
    assert_eq!(file["issuer"]["type"], json!(["Profile"]));
    assert_eq!(
        (&file["validFrom"], &file["validUntil"]),
        (&json!("2026-11-24T08:00:00Z"), &json!("2029-11-24T08:00:00Z"))
    );
    let subject = &file["credentialSubject"];
    assert_eq!(subject["type"], json!(["AchievementSubject"]));
    let achievement = &subject["achievement"];
    assert_eq!(achievement["type"], json!(["Achievement"]));
    for field in ["id", "name", "description"] {
        assert!(achievement[field].as_str().is_some_and(|text| !text.is_empty()), "{field}: {achievement}");
    }
    assert!(achievement["criteria"]["narrative"].as_str().is_some_and(|text| text.contains("Fire and burns")));
    // Source: the same: at most one status.
    assert_eq!(file["credentialStatus"]["type"], json!("BitstringStatusListEntry"));
    let check = check_path(&mut ines, number).await;
    assert_eq!(file["id"], json!(format!("{}{check}", app.deeds.origin)));

    // Source: the same, IdentityHash: the hash of the address with the salt behind it, made here by hand.
    let identity = &subject["identifier"][0];
    let salt = identity["salt"].as_str().expect("a salt");
    assert!(salt.len() >= 26, "at least 128 bits in characters of five: {salt}");
    let hash = Sha256::digest(format!("ines.varga@example.org{salt}").as_bytes());
    let hash: String = hash.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(identity["identityHash"], json!(format!("sha256${hash}")));
    assert_eq!((&identity["hashed"], &identity["identityType"]), (&json!(true), &json!("emailAddress")));
    for personal in ["Ines", "Varga", "example.org", "Coldbrook", &number.to_string()] {
        assert!(!text.contains(personal), "{personal} in {text}");
    }
    assert!(!text.contains("null") && !text.contains("[]"), "no nulls and no empty lists: {text}");
    app.stop().await;
}
