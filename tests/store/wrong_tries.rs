//! Wrong passwords are counted in the database: by every server on it together, over a restart, and under no name. They slow
//! whoever guesses, and keep nobody out of their own account.

use super::sample::new_person;
use crate::support::app::{BEGINNING, PASSWORD, deeds_on};
use crate::support::database::for_each_database;
use crate::support::rows::rows;
use sootmark::actions::Deeds;
use sootmark::actions::anonymise_person::{Anonymised, anonymise_person};
use sootmark::actions::sign_in::{Claim, SignIn, sign_in};
use sootmark::clock::Clock;
use sootmark::domain::people::{EmailAddress, Role};
use sootmark::store::sessions::Device;
use sootmark::store::{Db, StoreError, branches, people, write};

const ANN: &str = "ann@example.org";
const NOBODY: &str = "nobody@example.org";

/// A server of its own on a database: its own memory, the same time.
fn server(db: &Db, clock: &Clock) -> Deeds {
    deeds_on(db.clone(), clock.clone(), "http://localhost".to_owned())
}

async fn add_ann(deeds: &Deeds) {
    add(deeds, &[ANN]).await;
}

async fn add(deeds: &Deeds, emails: &[&str]) {
    let phc = deeds.hashing.hash(PASSWORD.to_owned()).await.expect("a hash");
    let added = write::<_, StoreError, _>(&deeds.db, async |tx| {
        let branch = branches::insert(tx, "Coldbrook", "UTC").await?;
        for email in emails {
            let mut person = new_person(branch, "Ann Lovell", email, Role::Technician);
            person.password_phc = Some(phc.clone());
            people::insert(tx, person).await?;
        }
        Ok(())
    });
    added.await.expect("people");
}

async fn tried(deeds: &Deeds, email: &str, password: &str, address: &str) -> SignIn {
    let claim = Claim { email, password, address, before: None, browser: None, device: Device::Unknown };
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
                let wait = tried(at, email, PASSWORD, "192.0.2.1").await;
                assert!(matches!(wait, SignIn::Wait { seconds: 2 }), "{email}: {wait:?}");
            }
        }
        // The wait passes by itself, and the right password forgets at every server.
        clock.advance(2);
        assert!(matches!(tried(&other, ANN, PASSWORD, "192.0.2.1").await, SignIn::Begun(..)));
        for _ in 0..4 {
            assert!(matches!(tried(&one, ANN, "wrong words", "192.0.2.1").await, SignIn::Refused));
        }
        assert!(matches!(tried(&one, ANN, PASSWORD, "192.0.2.1").await, SignIn::Begun(..)));
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
        assert_eq!(kept.len(), 5, "two accounts, each also from its address, and the address");
        let texts: Vec<&String> = kept.iter().flat_map(|row| row.values()).collect();
        for told in ["ann", "nobody", "192.0"] {
            assert!(!texts.iter().any(|text| text.contains(told)), "{texts:?}");
        }
        clock.advance(3599);
        assert_eq!(deeds.sweep_wrong_tries().await.expect("the store"), 0);
        clock.advance(1);
        assert_eq!(deeds.sweep_wrong_tries().await.expect("the store"), 5);
    })
    .await;
}

async fn gets_in(deeds: &Deeds, email: &str, address: &str) -> bool {
    matches!(tried(deeds, email, PASSWORD, address).await, SignIn::Begun(..))
}

/// Wrong passwords for an account, one a second from the addresses in turn; `meanwhile` is done after each. Gives how many were
/// looked at.
async fn guessed(
    deeds: &Deeds,
    email: &str,
    addresses: &[String],
    seconds: usize,
    meanwhile: impl AsyncFn(usize),
) -> usize {
    let mut looked_at = 0;
    for (second, address) in addresses.iter().cycle().enumerate().take(seconds) {
        looked_at += usize::from(matches!(tried(deeds, email, "wrong words", address).await, SignIn::Refused));
        meanwhile(second).await;
        deeds.clock.advance(1);
    }
    looked_at
}

fn addresses(count: usize) -> Vec<String> {
    (0..count).map(|at| format!("198.51.100.{at}")).collect()
}

#[tokio::test]
async fn who_guesses_from_one_address_keeps_nobody_out_anywhere_else() {
    for_each_database(async |db| {
        let deeds = server(&db, &Clock::manual(BEGINNING));
        add_ann(&deeds).await;
        // She was never here before, neither at the one place nor at the other.
        let looked_at = guessed(&deeds, ANN, &addresses(1), 300, async |second| {
            if second % 7 == 0 {
                let address = if second % 2 == 0 { "192.0.2.1" } else { "192.0.2.2" };
                assert!(gets_in(&deeds, ANN, address).await, "after {second} s");
            }
        })
        .await;
        assert_eq!(looked_at, 13, "ten in the first minute or so, and then one a minute");
        assert!(gets_in(&deeds, ANN, "192.0.2.3").await, "nor at a third, after all of them");
        assert!(!gets_in(&deeds, ANN, &addresses(1)[0]).await, "from where the guesses come one waits");
    })
    .await;
}

#[tokio::test]
async fn who_guesses_from_many_addresses_is_slowed_and_keeps_nobody_out_where_they_are_known() {
    for_each_database(async |db| {
        let deeds = server(&db, &Clock::manual(BEGINNING));
        add_ann(&deeds).await;
        assert!(gets_in(&deeds, ANN, "192.0.2.1").await);
        let looked_at = guessed(&deeds, ANN, &addresses(100), 300, async |second| {
            if second % 7 == 0 {
                assert!(gets_in(&deeds, ANN, "192.0.2.1").await, "after {second} s");
            }
        })
        .await;
        let of_nobody = guessed(&deeds, NOBODY, &addresses(100), 300, async |_| {}).await;
        assert!((25..=30).contains(&looked_at), "twenty cost nothing, then one a minute: {looked_at}");
        assert_eq!(of_nobody, looked_at, "whether somebody has the account or not");
        // Where she is not known she waits like everybody, no longer than a minute.
        guessed(&deeds, ANN, &addresses(100), 50, async |_| {}).await;
        let new = tried(&deeds, ANN, PASSWORD, "192.0.2.9").await;
        let SignIn::Wait { seconds } = new else { panic!("{new:?}") };
        assert!((1..=60).contains(&seconds), "{seconds}");
        deeds.clock.advance(seconds);
        assert!(gets_in(&deeds, ANN, "192.0.2.9").await);
    })
    .await;
}

#[tokio::test]
async fn a_place_is_known_for_ninety_days_and_to_the_account_alone() {
    for_each_database(async |db| {
        let deeds = server(&db, &Clock::manual(BEGINNING));
        add(&deeds, &[ANN, "ben@example.org"]).await;
        assert!(gets_in(&deeds, ANN, "192.0.2.1").await);
        assert!(gets_in(&deeds, "ben@example.org", "192.0.2.2").await);
        let kept = rows(&db).await.remove("known_place").expect("rows");
        let texts: Vec<&String> = kept.iter().flat_map(|row| row.values()).collect();
        assert!(!texts.iter().any(|text| ["ann", "ben", "192.0"].iter().any(|told| text.contains(told))), "{texts:?}");
        let fill = async || guessed(&deeds, ANN, &addresses(100), 90, async |_| {}).await;
        deeds.clock.advance(90 * 24 * 3600 - 91);
        fill().await;
        assert!(!gets_in(&deeds, ANN, "192.0.2.2").await, "Ben's place is not Ann's");
        deeds.sweep_wrong_tries().await.expect("the store");
        let left = rows(&db).await.remove("known_place").map_or(0, |left| left.len());
        assert_eq!(left, 2, "a second is left");
        // A second before the ninety days are over it is known, and from now on for ninety more.
        assert!(gets_in(&deeds, ANN, "192.0.2.1").await);
        deeds.clock.advance(90 * 24 * 3600 - 90);
        fill().await;
        assert!(!gets_in(&deeds, ANN, "192.0.2.1").await, "it is known no more");
        deeds.sweep_wrong_tries().await.expect("the store");
        assert_eq!(rows(&db).await.remove("known_place").map_or(0, |left| left.len()), 0);
    })
    .await;
}

#[tokio::test]
async fn typos_and_guesses_behind_the_address_of_a_branch_keep_nobody_out() {
    for_each_database(async |db| {
        let clock = Clock::manual(BEGINNING);
        let deeds = server(&db, &clock);
        let new: Vec<String> = (0..12).map(|at| format!("new{at}@example.org")).collect();
        let all: Vec<&str> = std::iter::once(ANN).chain(new.iter().map(String::as_str)).collect();
        add(&deeds, &all).await;
        let branch = "192.0.2.1";
        // A day's typos, each by somebody else and long after the one before, cost nobody anything.
        for at in 0..60 {
            tried(&deeds, &format!("typo{at}@example.org"), PASSWORD, branch).await;
            clock.advance(240);
        }
        assert!(gets_in(&deeds, ANN, branch).await);
        // Somebody tries everybody's account from there, as often as they may.
        let mut looked_at = 0;
        for second in 0..200 {
            let wrong = tried(&deeds, &format!("spray{second}@example.org"), "wrong words", branch).await;
            looked_at += usize::from(matches!(wrong, SignIn::Refused));
            assert!(gets_in(&deeds, ANN, branch).await, "who is known is let in, after {second} s");
            clock.advance(1);
        }
        assert!((35..=40).contains(&looked_at), "thirty cost nothing, then one a minute: {looked_at}");
        // Who is new waits once; right passwords hold nobody up, however many there are.
        let wait = tried(&deeds, &new[0], PASSWORD, branch).await;
        let SignIn::Wait { seconds } = wait else { panic!("{wait:?}") };
        clock.advance(seconds);
        for email in &new {
            assert!(gets_in(&deeds, email, branch).await, "{email}");
        }
    })
    .await;
}

#[tokio::test]
async fn nothing_of_where_somebody_signed_in_is_left_when_they_are_made_anonymous() {
    for_each_database(async |db| {
        let deeds = server(&db, &Clock::manual(BEGINNING));
        add(&deeds, &[ANN, "ben@example.org"]).await;
        for (email, address) in [(ANN, "192.0.2.1"), (ANN, "192.0.2.2"), ("ben@example.org", "192.0.2.1")] {
            assert!(gets_in(&deeds, email, address).await);
        }
        let ann = EmailAddress::parse("Ann@Example.org").expect("an address");
        let done = anonymise_person(&deeds, &ann).await.expect("the store");
        assert!(matches!(done, Anonymised::Done { .. }), "{done:?}");
        assert_eq!(rows(&db).await.remove("known_place").map_or(0, |left| left.len()), 1, "Ben's");
    })
    .await;
}
