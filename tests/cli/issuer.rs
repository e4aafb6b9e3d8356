//! `sootmark issuer`: the public keys, and a new one.

use super::audit::run;
use crate::support::database::OneDatabase;
use serde_json::Value;
use std::os::unix::fs::PermissionsExt as _;
use std::process::Command;

/// The public keys that the command line shows, the newest first.
fn keys(url: &str) -> Vec<String> {
    let (said, wrong, code) = run(url, &["issuer", "keys"]);
    assert_eq!((wrong.as_str(), code), ("", 0), "{said}");
    let document: Value = serde_json::from_str(&said).expect("JSON");
    let methods = document["verificationMethod"].as_array().expect("keys");
    methods.iter().map(|key| key["publicKeyMultibase"].as_str().expect("a key").to_owned()).collect()
}

#[tokio::test]
async fn keys_are_shown_and_renewed() {
    let database = OneDatabase::fresh().await;
    let first = keys(&database.url);
    assert_eq!(first.len(), 1);
    assert!(first[0].starts_with("z6Mk"), "Source: multicodec and base58-btc: an Ed25519 key begins so: {}", first[0]);
    assert_eq!(keys(&database.url), first, "made once");
    let (said, told, code) = run(&database.url, &["issuer", "renew-key"]);
    assert_eq!((said.as_str(), code), ("", 0), "{told}");
    let now = keys(&database.url);
    assert_eq!((now.len(), &now[1]), (2, &first[0]), "the old one stays");
    assert!(told.contains(&now[0]) && !told.contains("z3u2"), "{told}");
    database.close().await;
}

#[test]
fn the_database_that_holds_the_key_is_its_owners_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let roster = folder.path().join("roster.csv");
    std::fs::write(&roster, "name,email,branch,role\nAda,ada@example.org,Coldbrook,administrator\n").expect("a roster");
    // The first command on a new machine.
    let output = Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(["people", "import", "roster.csv", "--add-branches"])
        .current_dir(folder.path())
        .env_remove("SOOTMARK_SETTINGS")
        .env_remove("SOOTMARK_DATABASE_URL")
        .env("SOOTMARK_DATA_FOLDER", folder.path())
        .output()
        .expect("the program runs");
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    std::fs::remove_file(&roster).expect("nobody's secret");
    let mut files = 0;
    for entry in std::fs::read_dir(folder.path()).expect("the folder") {
        let entry = entry.expect("an entry");
        let mode = entry.metadata().expect("its mode").permissions().mode() & 0o777;
        assert_eq!(mode, 0o600, "{:?}", entry.file_name());
        files += 1;
    }
    assert!(files > 0, "the database is there");
}
