//! The issuer's keys: made once, whoever asks first, on both databases; renewed without losing the old public ones.

use crate::support::app::{BEGINNING, deeds_on};
use crate::support::database::for_each_database;
use sootmark::actions::check_record::check_record;
use sootmark::actions::issuer::{issuer, renew_key};
use sootmark::clock::Clock;
use sootmark::store::record::{self, Verification};
use sootmark::store::{CertificateId, StoreError, settings, write};

const ORIGIN: &str = "https://training.example.org";

#[tokio::test]
async fn they_are_made_once_and_the_record_knows_each() {
    for_each_database(async |db| {
        let clock = Clock::manual(BEGINNING);
        let deeds = deeds_on(db.clone(), clock.clone(), ORIGIN.to_owned());
        let (one, other) = tokio::join!(issuer(&deeds), issuer(&deeds));
        let (one, other) = (one.expect("keys"), other.expect("keys"));
        assert_eq!(one.document(), other.document(), "two servers at once agree");
        assert_eq!(one.name(), "https://training.example.org/issuer");
        let code = one.code_of(CertificateId(1));

        clock.advance(60);
        let renewed = renew_key(&deeds).await.expect("a new key");
        let again = issuer(&deeds).await.expect("keys");
        let keys: Vec<String> = again.document()["verificationMethod"]
            .as_array()
            .expect("keys")
            .iter()
            .map(|key| key["publicKeyMultibase"].as_str().expect("a key").to_owned())
            .collect();
        let first = one.document()["verificationMethod"][0]["publicKeyMultibase"].as_str().expect("a key").to_owned();
        assert_eq!(keys, [renewed.clone(), first.clone()], "the newest first, the old one stays");
        assert_eq!(again.certificate_of(&code), Some(CertificateId(1)), "papers lead where they led");

        let entries = record::of_kind(&db, "issuer").await.expect("the record");
        let made: Vec<&str> = entries.iter().map(|entry| entry.deed.as_str()).collect();
        assert_eq!(made, ["issuer_key_made", "issuer_key_made"]);
        assert!(entries[0].detail.contains(&first) && entries[1].detail.contains(&renewed));
        assert!(matches!(record::verify(&db).await, Ok(Verification::Whole { entries: 2, .. })));

        // Whoever slips a key of their own in could sign what nobody granted: the check of the record sees it.
        assert!(check_record(&db, &[]).await.expect("the store").is_whole());
        let kept = settings::find(&db, "issuer").await.expect("the store").expect("keys");
        let slipped = kept.replace(&first, "z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2");
        assert_ne!(kept, slipped);
        let set = write::<_, StoreError, _>(&db, async |tx| settings::set(tx, "issuer", &slipped).await);
        set.await.expect("slipped in");
        let found = check_record(&db, &[]).await.expect("the store");
        assert!(!found.is_whole() && found.faults.len() == 1 && found.faults[0].about == "the issuer", "{found:?}");
    })
    .await;
}
