//! The demo organisation: made by the deeds themselves, the same each time, and on a record that holds.

use crate::support::database::OneDatabase;
use sootmark::actions::load_bank::load_bank;
use sootmark::actions::sign_in::{Claim, SignIn, sign_in};
use sootmark::actions::{BankInUse, Deeds, Hashing, Seeds, Throttle};
use sootmark::bank_files;
use sootmark::clock::Clock;
use sootmark::config::Settings;
use sootmark::demo::{self, Found};
use sootmark::domain::units::Moment;
use sootmark::mail::transport::Transport;
use sootmark::store::attempts::{self, AttemptKind, AttemptState};
use sootmark::store::people::{PeopleFilter, list};
use sootmark::store::record::{self, Verification};
use sootmark::store::sessions::{Device, WaitsFor};
use sootmark::store::{outbox, qualifications};
use sootmark::web::view::Views;
use std::sync::Arc;
use tokio::sync::Notify;

/// 24 Nov 2026, 14:00 UTC.
const NOW: Moment = Moment(1_795_528_800_000_000);

/// Makes the demo of so many people in a database of its own.
async fn made(people: usize) -> (Deeds, OneDatabase) {
    let database = OneDatabase::fresh().await;
    let deeds = Deeds {
        db: database.db.clone(),
        clock: Clock::manual(demo::beginning(NOW)),
        views: Views::load().expect("the templates"),
        hashing: Hashing::worthless_for_tests().expect("random bytes"),
        throttle: Throttle::default(),
        origin: "http://127.0.0.1:8080".to_owned(),
        seeds: Seeds::counted([9; 32]),
        bank: BankInUse::default(),
        letters: Arc::new(Notify::new()),
        codes_required: false,
    };
    load_bank(&deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
    assert_eq!(demo::look(&deeds.db).await.expect("the store"), Found::Nobody);
    let settings = Settings { data_folder: database.folder.path().to_owned(), ..Settings::default() };
    let mail = Transport::from_settings(&settings).expect("a folder for mail");
    demo::make(&deeds, NOW, people, mail).await.expect("the demo");
    (deeds, database)
}

#[tokio::test]
async fn a_few_people_have_a_past_that_the_record_bears_out() {
    let (deeds, database) = made(8).await;
    let db = &deeds.db;
    assert_eq!(demo::look(db).await.unwrap(), Found::Demo);
    assert_eq!(deeds.clock.now(), NOW);
    let Verification::Whole { entries, .. } = record::verify(db).await.unwrap() else { panic!("the record is broken") };
    assert!(entries > 8, "{entries}");

    let people = list(db, &PeopleFilter::default(), 1, 50).await.unwrap().people;
    assert_eq!(people.len(), 8);
    let of = |name: &str| people.iter().find(|(person, _)| person.display_name == name).expect(name).0.id;

    // Missed a safety question, went through it, passed.
    let debriefed = attempts::of_person(db, of("Lorcan Westerby")).await.unwrap();
    let sat = debriefed.iter().filter(|attempt| attempt.kind == AttemptKind::Examination).collect::<Vec<_>>();
    assert!(sat.len() >= 2, "{}", sat.len());
    let first = qualifications::of_attempt(db, sat.last().unwrap().id).await.unwrap();
    assert!(first.iter().any(|entry| entry.entry.safety_miss));
    assert!(attempts::find_result(db, sat[0].id).await.unwrap().unwrap().passed, "the last one is passed");

    // Ran out 24 days ago, give or take the resits before it.
    let lapsed = qualifications::of_person(db, of("Brigid Tanqueray")).await.unwrap();
    assert!(!lapsed.is_empty() && lapsed.iter().all(|entry| entry.entry.valid_until.is_none_or(|until| until < NOW)));

    let sits = attempts::of_person(db, of("Anselm Okoro")).await.unwrap();
    let open = sits.iter().find(|attempt| attempt.kind == AttemptKind::Examination).expect("an examination");
    assert_eq!(open.state, AttemptState::Open);
    assert!(open.deadline_at.unwrap() > NOW);
    assert!(!attempts::responses(db, open.id).await.unwrap().is_empty());
    assert!(attempts::of_person(db, of("Jonah Pellow")).await.unwrap().is_empty(), "a new hire has done nothing yet");

    // Every letter left on its day: nothing waits to be sent a second time.
    assert_eq!(outbox::waiting(db).await.unwrap(), 0);
    let letters = std::fs::read_dir(database.folder.path().join("mail")).unwrap().count();
    assert!(letters >= 8, "{letters}");

    for way in demo::sign_ins() {
        let claim = Claim {
            email: &way.email,
            password: demo::PASSWORD,
            address: "192.0.2.1",
            before: None,
            browser: None,
            device: Device::Unknown,
        };
        assert!(matches!(sign_in(&deeds, claim).await.unwrap(), SignIn::Begun(_, WaitsFor::Nothing)), "{way:?}");
    }
    database.close().await;
}

#[tokio::test]
async fn the_same_day_gives_the_same_past() {
    let (one, other) = (made(5).await, made(5).await);
    let past = async |deeds: &Deeds| {
        let mut all = Vec::new();
        for (person, branch) in list(&deeds.db, &PeopleFilter::default(), 1, 50).await.unwrap().people {
            all.push(format!("{person:?} {branch}"));
            for attempt in attempts::of_person(&deeds.db, person.id).await.unwrap() {
                all.push(format!("{attempt:?}"));
                for question in attempts::questions(&deeds.db, attempt.id).await.unwrap() {
                    all.push(question.question.json);
                }
                for response in attempts::responses(&deeds.db, attempt.id).await.unwrap() {
                    all.push(format!("{response:?}"));
                }
            }
        }
        all
    };
    let (first, second) = (past(&one.0).await, past(&other.0).await);
    assert!(first.len() > 50, "{}", first.len());
    assert_eq!(first, second);
    one.1.close().await;
    other.1.close().await;
}

#[tokio::test]
async fn nobody_elses_database_becomes_a_demo() {
    let app = crate::support::app::TestApp::start().await;
    assert_eq!(demo::look(&app.deeds.db).await.unwrap(), Found::OtherPeople);
    assert!(!app.browser().get("/sign-in").await.text().contains("invented"));
    app.stop().await;
}
