//! Deeds about one person at the same moment, on PostgreSQL, which shows nobody what another has not committed: the second waits
//! for its turn and goes by what the first has left.
//!
//! What the first one does stands in a transaction that is still open while the second runs; it ends once the server says that
//! somebody waits for a lock, or once the second is through without having waited. No time is waited for.

use super::servers::postgres;
use crate::store::sample::examination;
use crate::support::app::{BEGINNING, PASSWORD, TestApp, address_of};
use crate::support::database::{PostgresDatabase, for_each_database};
use crate::support::rows::texts;
use crate::support::sittings::{begin, manager, read_everything};
use futures_util::future::join;
use sea_orm::{ConnectionTrait as _, DatabaseTransaction};
use sootmark::actions::ActionError;
use sootmark::actions::accept_invitation::{Acceptance, accept_invitation};
use sootmark::actions::anonymise_person::{Anonymised, anonymise_person};
use sootmark::actions::ask_for_password::ask_for_password;
use sootmark::actions::begin_examination::{Begun, NotYet, begin_examination};
use sootmark::actions::change_person::{PersonChange, Standing, change_person};
use sootmark::actions::invigilate::Invigilator;
use sootmark::actions::note_incident::{Noted, Seen, note_incident};
use sootmark::actions::sign_in::{Claim, SignIn, sign_in};
use sootmark::actions::{Deeds, Token};
use sootmark::config::Settings;
use sootmark::domain::letters::Kind;
use sootmark::domain::people::{EmailAddress, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::incidents::IncidentKind;
use sootmark::store::invitations::Invitation;
use sootmark::store::outbox::NewMail;
use sootmark::store::record::NewEntry;
use sootmark::store::sessions::Device;
use sootmark::store::{
    Db, PersonId, StoreError, attempts, invitations, migrate, outbox, people, record, sessions, write,
};
use std::pin::pin;

const SCHEME: &str = "first-day";
/// One that somebody watches.
const WATCHED: &str = "service-technician";
const OTHER_PASSWORD: &str = "mill pond lantern";

/// A PostgreSQL with its tables; nothing when there is no server.
async fn fresh() -> Option<PostgresDatabase> {
    let database = postgres().await?;
    migrate(&database.db).await.expect("the tables are made");
    Some(database)
}

/// Comes back once a connection that uses a table waits for a lock.
async fn somebody_waits(db: &Db, table: &str) {
    let waiting = format!(
        "SELECT waits.pid::text FROM pg_locks waits JOIN pg_locks uses ON uses.pid = waits.pid \
         WHERE NOT waits.granted AND uses.relation = '{table}'::regclass"
    );
    while texts(db, &waiting).await.expect("the locks").is_empty() {}
}

/// What comes of `second`, which begins when `first` has done its work in a transaction that is committed when `second` waits for
/// a row of the table, or is through. As every deed does, the first one writes into the record at its end: whoever waits for
/// its turn must not hold that.
async fn overtaken<T>(
    db: &Db,
    table: &str,
    first: impl AsyncFnOnce(&DatabaseTransaction) -> Result<(), StoreError>,
    second: impl Future<Output = T>,
) -> T {
    let mut second = pin!(second);
    let without_waiting = write::<_, StoreError, _>(db, async |tx| {
        first(tx).await?;
        let without_waiting = tokio::select! {
            done = &mut second => Some(done),
            () = somebody_waits(db, table) => None,
        };
        let entry = NewEntry {
            at: BEGINNING,
            actor_id: None,
            deed: "first_of_two".to_owned(),
            subject_kind: "person".to_owned(),
            subject_id: None,
            detail: serde_json::Value::Null,
        };
        record::append(tx, entry).await?;
        Ok(without_waiting)
    });
    match without_waiting.await.expect("the first is committed") {
        Some(done) => done,
        None => second.await,
    }
}

async fn person_of(deeds: &Deeds, role: Role) -> PersonId {
    let found = people::find_by_email_norm(&deeds.db, &address_of(role)).await.expect("the store");
    found.expect("a person").id
}

async fn administrators(deeds: &Deeds) -> u64 {
    people::count_active(&deeds.db, Role::Administrator).await.expect("the store")
}

fn address(text: &str) -> EmailAddress {
    EmailAddress::parse(text).expect("an address")
}

fn is_not_there<T>(outcome: &Result<T, ActionError>) -> bool {
    matches!(outcome, Err(ActionError::Store(StoreError::NotFound)))
}

/// A person whose name and address are taken away, as [`anonymise_person`] does first.
async fn anonymised(tx: &DatabaseTransaction, person: PersonId) -> Result<(), StoreError> {
    people::in_turn(tx, person).await?;
    people::anonymise(tx, person, "Nobody any more", &format!("person-{person}@anonymous.invalid")).await
}

fn mail(kind: Kind, text: &str) -> NewMail {
    NewMail {
        to_address: "tomas@example.org".to_owned(),
        to_name: "Tomas Reyk".to_owned(),
        subject: "A letter".to_owned(),
        text_body: text.to_owned(),
        html_body: format!("<p>{text}</p>"),
        kind,
        person: None,
        about: None,
        threshold: 0,
        unsubscribe_link: None,
        created_at: BEGINNING,
    }
}

#[tokio::test]
async fn nobody_changes_people_who_may_not_any_more() {
    for_each_database(async |db: Db| {
        let app = TestApp::start_on(db, Settings::default()).await;
        let person = person_of(&app.deeds, Role::Technician).await;
        let to = Standing { role: Role::Administrator, branch: app.branch, active: true };
        let suspended = app.person("Tomas Reyk", "tomas@example.org", Role::Administrator).await;
        app.suspend(suspended).await;
        // The guard let them in a moment before.
        for by in [person_of(&app.deeds, Role::Trainer).await, suspended, PersonId(4711)] {
            let done = change_person(&app.deeds, by, person, to).await.expect("the store");
            assert_eq!(done, PersonChange::NoSuchPerson, "{by}");
        }
        assert_eq!(administrators(&app.deeds).await, 1);
        assert_eq!(app.deeds_about(&address_of(Role::Technician)).await, [] as [String; 0]);
        app.stop().await;
    })
    .await;
}

#[tokio::test]
async fn of_two_administrators_who_demote_each_other_one_is_left() {
    let Some(database) = fresh().await else { return };
    let app = TestApp::start_on(database.db.clone(), Settings::default()).await;
    let one = person_of(&app.deeds, Role::Administrator).await;
    let other = app.person("Tomas Reyk", "tomas@example.org", Role::Administrator).await;
    let to = Standing { role: Role::Technician, branch: app.branch, active: true };
    let both = join(change_person(&app.deeds, one, other, to), change_person(&app.deeds, other, one, to));
    let held_up = async |tx: &DatabaseTransaction| people::in_turn(tx, one).await;
    let (first, second) = overtaken(&app.deeds.db, "person", held_up, both).await;
    let mut done = [first.expect("the store"), second.expect("the store")];
    done.sort_by_key(|done| *done == PersonChange::NoSuchPerson);
    assert_eq!(done, [PersonChange::Changed, PersonChange::NoSuchPerson]);
    assert_eq!(administrators(&app.deeds).await, 1);
    app.stop().await;
    database.drop_schema().await;
}

#[tokio::test]
async fn the_last_administrator_stays_when_the_other_goes_at_the_same_moment() {
    let Some(database) = fresh().await else { return };
    let app = TestApp::start_on(database.db.clone(), Settings::default()).await;
    let (db, last) = (&app.deeds.db, address(&address_of(Role::Administrator)));
    // Made something else, suspended, made anonymous.
    for (way, name) in ["tomas@example.org", "mirela@example.org", "silke@example.org"].into_iter().enumerate() {
        let other = app.person("Tomas Reyk", name, Role::Administrator).await;
        let goes = async |tx: &DatabaseTransaction| {
            people::in_turn(tx, other).await?;
            match way {
                0 => people::set_role(tx, other, Role::Trainer).await,
                1 => people::set_active(tx, other, false).await,
                _ => anonymised(tx, other).await,
            }
        };
        let done = overtaken(db, "person", goes, anonymise_person(&app.deeds, &last)).await.expect("the store");
        assert_eq!((done, administrators(&app.deeds).await), (Anonymised::LastAdministrator, 1), "{name}");
    }
    app.stop().await;
    database.drop_schema().await;
}

#[tokio::test]
async fn who_is_made_anonymous_gets_no_letter_at_the_old_address() {
    let Some(database) = fresh().await else { return };
    let app = TestApp::start_on(database.db.clone(), Settings::default()).await;
    let (person, email) = (person_of(&app.deeds, Role::Technician).await, address_of(Role::Technician));
    let asks = ask_for_password(&app.deeds, &email);
    overtaken(&app.deeds.db, "person", async |tx| anonymised(tx, person).await, asks).await.expect("the store");
    assert_eq!(app.letters().await, []);
    assert_eq!(invitations::of_person(&app.deeds.db, person).await.expect("the store").len(), 0, "and no link is good");
    app.stop().await;
    database.drop_schema().await;
}

#[tokio::test]
async fn a_letter_that_leaves_while_somebody_is_forgotten_keeps_neither_the_name_nor_the_link() {
    let Some(database) = fresh().await else { return };
    let (db, token) = (&database.db, "0123456789abcdef".repeat(4));
    let forget = async |tx: &DatabaseTransaction| {
        outbox::forget(tx, "ines@example.org", "Ines Varga", "Ines Varga", "Person 1").await.map(drop)
    };
    let sent = async |tx: &DatabaseTransaction, id| outbox::mark_sent(tx, id, BEGINNING).await;

    let first = outbox::enqueue(db, mail(Kind::Digest, "Ines Varga has read it.")).await.expect("the store");
    let first = first.expect("a letter");
    let marks = write::<_, StoreError, _>(db, async |tx| sent(tx, first).await);
    overtaken(db, "outbox", forget, marks).await.expect("the store");
    let kept = outbox::to_address(db, "tomas@example.org").await.expect("the store");
    assert_eq!(kept.iter().map(|mail| mail.text_body.as_str()).collect::<Vec<_>>(), ["Person 1 has read it."]);

    let invites = format!("Ines Varga invites you: http://localhost/invitation/{token}");
    let second = outbox::enqueue(db, mail(Kind::Invitation, &invites)).await.expect("the store").expect("a letter");
    let forgets = write::<_, StoreError, _>(db, forget);
    overtaken(db, "outbox", async |tx| sent(tx, second).await, forgets).await.expect("the store");
    let kept = outbox::to_address(db, "tomas@example.org").await.expect("the store");
    let all = format!("{kept:?}");
    assert!(!all.contains(&token) && !all.contains("Ines"), "{all}");
    database.drop_schema().await;
}

#[tokio::test]
async fn nobody_is_made_anonymous_who_begins_an_examination_at_the_same_moment() {
    let Some(database) = fresh().await else { return };
    let app = TestApp::start_on(database.db.clone(), Settings::default()).await;
    let (person, email) = (person_of(&app.deeds, Role::Technician).await, address(&address_of(Role::Technician)));
    let begins = async |tx: &DatabaseTransaction| {
        people::in_turn(tx, person).await?;
        attempts::open_attempt(tx, examination(person), Vec::new()).await.map(drop)
    };
    let done = overtaken(&app.deeds.db, "person", begins, anonymise_person(&app.deeds, &email)).await;
    assert_eq!(done.expect("the store"), Anonymised::SittingOpen);
    app.stop().await;
    database.drop_schema().await;
}

#[tokio::test]
async fn nobody_begins_an_examination_who_is_not_here_any_more() {
    for_each_database(async |db: Db| {
        let app = TestApp::start_with_bank_on(db).await;
        let person = person_of(&app.deeds, Role::Technician).await;
        read_everything(&app, person, SCHEME).await;
        let begins = || begin_examination(&app.deeds, person, TemperatureUnit::Celsius, SCHEME);
        let email = address(&address_of(Role::Technician));
        let done = anonymise_person(&app.deeds, &email).await.expect("the store");
        assert!(matches!(done, Anonymised::Done { .. }), "{done:?}");
        let begun = begins().await;
        assert!(is_not_there(&begun), "{begun:?}");
        assert_eq!(attempts::all(&app.deeds.db).await.expect("the store"), []);
        app.stop().await;
    })
    .await;
}

#[tokio::test]
async fn what_happens_while_an_examination_begins_counts() {
    let Some(database) = fresh().await else { return };
    let app = TestApp::start_with_bank_on(database.db.clone()).await;
    let person = person_of(&app.deeds, Role::Technician).await;
    let begins = || begin_examination(&app.deeds, person, TemperatureUnit::Celsius, SCHEME);
    read_everything(&app, person, SCHEME).await;
    // Stands for all that may be missing; what a person has read is never taken away otherwise.
    let unread = async |tx: &DatabaseTransaction| {
        people::in_turn(tx, person).await?;
        tx.execute_unprepared("DELETE FROM lesson_read").await.map(drop).map_err(StoreError::from)
    };
    let begun = overtaken(&app.deeds.db, "person", unread, begins()).await.expect("the store");
    assert!(matches!(&begun, Begun::NotYet(NotYet::LessonsUnread(_))), "{begun:?}");
    read_everything(&app, person, SCHEME).await;
    let suspended = async |tx: &DatabaseTransaction| {
        people::in_turn(tx, person).await?;
        people::set_active(tx, person, false).await
    };
    let begun = overtaken(&app.deeds.db, "person", suspended, begins()).await;
    assert!(is_not_there(&begun), "{begun:?}");
    assert_eq!(attempts::all(&app.deeds.db).await.expect("the store"), []);
    app.stop().await;
    database.drop_schema().await;
}

#[tokio::test]
async fn a_sitting_is_ended_while_something_else_is_done_for_its_person() {
    let Some(database) = fresh().await else { return };
    let app = TestApp::start_with_bank_on(database.db.clone()).await;
    let person = person_of(&app.deeds, Role::Technician).await;
    let attempt = begin(&app, person, WATCHED).await;
    let sitting = attempts::by_id(&app.deeds.db, person, attempt).await.expect("the sitting");
    let by = Invigilator { person: manager(&app).await.person, branch: app.branch };
    let under = sitting.invigilation_id.expect("somebody watches");
    let seen = Seen { under, attempt, kind: IncidentKind::Ended, text: "Read from a phone.", key: "a key" };
    let held_up = async |tx: &DatabaseTransaction| people::in_turn(tx, person).await;
    let done = overtaken(&app.deeds.db, "person", held_up, note_incident(&app.deeds, by, seen)).await;
    assert_eq!(done.expect("neither waits for the other for ever"), Noted::Done);
    app.stop().await;
    database.drop_schema().await;
}

#[tokio::test]
async fn the_old_password_opens_nothing_while_another_is_chosen() {
    let Some(database) = fresh().await else { return };
    let app = TestApp::start_on(database.db.clone(), Settings::default()).await;
    let (person, email) = (person_of(&app.deeds, Role::Technician).await, address_of(Role::Technician));
    let other = app.deeds.hashing.hash(OTHER_PASSWORD.to_owned()).await.expect("a hash");
    let changes = async |tx: &DatabaseTransaction| {
        people::in_turn(tx, person).await?;
        people::set_password(tx, person, &other).await
    };
    let claim = Claim {
        email: &email,
        password: PASSWORD,
        address: "192.0.2.1",
        before: None,
        browser: None,
        device: Device::Computer,
    };
    let signed_in = overtaken(&app.deeds.db, "person", changes, sign_in(&app.deeds, claim)).await;
    assert!(matches!(signed_in, Ok(SignIn::Refused)), "{signed_in:?}");

    // The same by a link that was used a moment ago, and by one that is still good for whoever is suspended.
    let links = [Token::fresh().expect("random bytes"), Token::fresh().expect("random bytes")];
    for link in &links {
        let kept = Invitation {
            token_hash: link.hash(),
            person_id: person,
            created_at: BEGINNING,
            expires_at: BEGINNING.plus_seconds(3600),
        };
        invitations::insert(&app.deeds.db, kept).await.expect("the store");
    }
    let [used, good] = &links;
    let first = accept_invitation(&app.deeds, used, "warm lantern oil", Device::Computer).await;
    assert!(matches!(first, Ok(Acceptance::Begun(..))), "{first:?}");
    sessions::delete_all_for_person(&app.deeds.db, person).await.expect("the store");
    let again = accept_invitation(&app.deeds, used, "warm lantern oil", Device::Computer);
    let again = overtaken(&app.deeds.db, "person", changes, again).await;
    assert!(matches!(again, Ok(Acceptance::NotValid)), "{again:?}");
    let suspended = async |tx: &DatabaseTransaction| {
        people::in_turn(tx, person).await?;
        people::set_active(tx, person, false).await
    };
    let late = accept_invitation(&app.deeds, good, "warm lantern oil", Device::Computer);
    let late = overtaken(&app.deeds.db, "person", suspended, late).await;
    assert!(matches!(late, Ok(Acceptance::NotValid)), "{late:?}");
    assert_eq!(sessions::of_person(&app.deeds.db, person).await.expect("the store").len(), 0);
    app.stop().await;
    database.drop_schema().await;
}
