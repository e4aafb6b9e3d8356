//! Wrong passwords are counted in the database: by every server on it together, over a restart, and under no name.

use super::sample::new_person;
use crate::support::app::{BEGINNING, PASSWORD, deeds_on};
use crate::support::database::for_each_database;
use crate::support::rows::rows;
use sootmark::actions::Deeds;
use sootmark::actions::sign_in::{Claim, SignIn, sign_in};
use sootmark::clock::Clock;
use sootmark::domain::people::Role;
use sootmark::store::sessions::Device;
use sootmark::store::{Db, StoreError, branches, people, write};

const ANN: &str = "ann@example.org";
const NOBODY: &str = "nobody@example.org";

/// A server of its own on a database: its own memory, the same time.
fn server(db: &Db, clock: &Clock) -> Deeds {
    deeds_on(db.clone(), clock.clone(), "http://localhost".to_owned())
}

async fn add_ann(deeds: &Deeds) {
    let phc = deeds.hashing.hash(PASSWORD.to_owned()).await.expect("a hash");
    let added = write::<_, StoreError, _>(&deeds.db, async |tx| {
        let branch = branches::insert(tx, "Coldbrook", "UTC").await?;
        let mut ann = new_person(branch, "Ann Lovell", ANN, Role::Technician);
        ann.password_phc = Some(phc.clone());
        people::insert(tx, ann).await
    });
    added.await.expect("a person");
}

async fn tried(deeds: &Deeds, email: &str, password: &str, address: &str) -> SignIn {
    let claim = Claim { email, password, address, before: None, device: Device::Unknown };
    sign_in(deeds, claim).await.expect("the store")
}

#[tokio::test]
async fn two_servers_count_together_and_a_restart_forgets_nothing() {
    for_each_database(async |db| {
        let clock = Clock::manual(BEGINNING);
        let (one, other) = (server(&db, &clock), server(&db, &clock));
        add_ann(&one).await;
        // It is the same for who is here and who is not.
        for email in [ANN, NOBODY] {
            for at in [&one, &other, &one, &other, &one] {
                assert!(matches!(tried(at, email, "wrong words", "192.0.2.1").await, SignIn::Refused), "{email}");
            }
            for at in [&one, &other, &server(&db, &clock)] {
                let wait = tried(at, email, PASSWORD, "192.0.2.2").await;
                assert!(matches!(wait, SignIn::Wait { seconds: 2 }), "{email}: {wait:?}");
            }
        }
        // The wait passes by itself, and the right password forgets at every server.
        clock.advance(2);
        assert!(matches!(tried(&other, ANN, PASSWORD, "192.0.2.2").await, SignIn::Begun(..)));
        for _ in 0..4 {
            assert!(matches!(tried(&one, ANN, "wrong words", "192.0.2.1").await, SignIn::Refused));
        }
        assert!(matches!(tried(&one, ANN, PASSWORD, "192.0.2.2").await, SignIn::Begun(..)));
    })
    .await;
}

#[tokio::test]
async fn of_many_guesses_at_once_few_are_looked_at() {
    for_each_database(async |db| {
        let clock = Clock::manual(BEGINNING);
        let (one, other) = (server(&db, &clock), server(&db, &clock));
        add_ann(&one).await;
        let guesses = (0..20).map(|n| tried(if n % 2 == 0 { &one } else { &other }, ANN, "wrong words", "192.0.2.1"));
        let all = futures_util::future::join_all(guesses).await;
        let looked_at = all.iter().filter(|outcome| matches!(outcome, SignIn::Refused)).count();
        let waits = all.iter().filter(|outcome| matches!(outcome, SignIn::Wait { .. })).count();
        assert_eq!((looked_at, waits), (5, 15), "four cost nothing, and the fifth the first wait: {all:?}");
    })
    .await;
}

#[tokio::test]
async fn nothing_in_the_table_tells_who_or_where_and_it_is_forgotten() {
    for_each_database(async |db| {
        let clock = Clock::manual(BEGINNING);
        let deeds = server(&db, &clock);
        add_ann(&deeds).await;
        tried(&deeds, ANN, "wrong words", "192.0.2.1").await;
        tried(&deeds, NOBODY, "wrong words", "192.0.2.1").await;
        let kept = rows(&db).await.remove("wrong_try").expect("rows");
        assert_eq!(kept.len(), 3, "two accounts and an address");
        let texts: Vec<&String> = kept.iter().flat_map(|row| row.values()).collect();
        for told in ["ann", "nobody", "192.0"] {
            assert!(!texts.iter().any(|text| text.contains(told)), "{texts:?}");
        }
        clock.advance(3599);
        assert_eq!(deeds.sweep_wrong_tries().await.expect("the store"), 0);
        clock.advance(1);
        assert_eq!(deeds.sweep_wrong_tries().await.expect("the store"), 3);
    })
    .await;
}
