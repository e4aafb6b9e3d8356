//! Whoever changes somebody's role, branch or permission to sign in past the program: the check finds it, as far as the record tells
//! of them.

use super::tamper::{each_is_found, on_each_with_address, unheld};
use crate::support::app::{TestApp, address_of};
use sea_orm::ConnectionTrait as _;
use sootmark::actions::anonymise_person::{Anonymised, anonymise_person};
use sootmark::actions::change_person::{PersonChange, Standing, change_person};
use sootmark::actions::check_record::check_record;
use sootmark::actions::import_people::{Import, UnknownBranches, import_people};
use sootmark::actions::invite_person::{Invited, Invitee, invite_person};
use sootmark::config::Settings;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::store::record::{self, NewEntry};
use sootmark::store::{Db, PersonId, StoreError, people, write};

/// A tampering, and words that the report then has.
const TAMPERINGS: [(&str, &str); 13] = [
    ("UPDATE person SET role = 'administrator' WHERE id = {invited}", "it is not what was put on record: role"),
    ("UPDATE person SET active = NOT active WHERE id = {invited}", "it is not what was put on record: active"),
    ("UPDATE person SET branch_id = branch_id + 1 WHERE id = {invited}", "it is not what was put on record: branch"),
    ("DELETE FROM person WHERE id = {invited}", "it is on record, and is not there"),
    ("UPDATE person SET role = 'administrator' WHERE id = {imported}", "it is not what was put on record: role"),
    ("UPDATE person SET branch_id = branch_id + 1 WHERE id = {imported}", "it is not what was put on record: branch"),
    ("UPDATE person SET role = 'administrator' WHERE id = {changed}", "it is not what was put on record: role"),
    ("UPDATE person SET active = NOT active WHERE id = {changed}", "it is not what was put on record: active"),
    ("UPDATE person SET branch_id = branch_id + 1 WHERE id = {changed}", "it is not what was put on record: branch"),
    ("UPDATE person SET active = NOT active WHERE id = {gone}", "it is not what was put on record: active"),
    ("UPDATE person SET role = 'administrator' WHERE id = {gone}", "it is not what was put on record: role"),
    ("UPDATE person SET active = NOT active WHERE id = {older}", "it is not what was put on record: active"),
    ("UPDATE person SET id = 900000 WHERE id = {changed}", "it is on record, and is not there"),
];

async fn of(app: &TestApp, email: &str) -> PersonId {
    people::find_by_email_norm(&app.deeds.db, email).await.expect("the store").expect("a person").id
}

async fn invited(app: &TestApp, name: &str, email: &str) -> PersonId {
    let invitee = Invitee {
        name: PersonName::parse(name).expect("a name"),
        email: EmailAddress::parse(email).expect("an address"),
        branch: app.branch,
        role: Role::Technician,
        scheme_key: None,
    };
    let done = invite_person(&app.deeds, None, invitee).await.expect("the store");
    let Invited::Sent(person) = done else { panic!("{done:?}") };
    person
}

async fn change(app: &TestApp, person: PersonId, to: Standing) {
    let by = of(app, &address_of(Role::Administrator)).await;
    assert_eq!(change_person(&app.deeds, by, person, to).await.expect("the store"), PersonChange::Changed);
}

/// People who came in every way, and what became of them, by the name that the tamperings call them.
async fn made(app: &TestApp) -> [(&'static str, PersonId); 5] {
    let technician = Standing { role: Role::Technician, branch: app.branch, active: true };
    let roster = "name,email,branch,role\nMara Tindle,mara@fennmark.example,Coldbrook,trainer\n";
    let done = import_people(&app.deeds, None, roster, UnknownBranches::Refuse).await.expect("the store");
    assert!(matches!(done, Import::Done { people: 1, .. }), "{done:?}");
    // The record does not tell how this one came in.
    let changed = app.person("Owen Lisle", "owen@fennmark.example", Role::Technician).await;
    change(app, changed, Standing { role: Role::Trainer, ..technician }).await;
    change(app, changed, Standing { role: Role::Trainer, active: false, ..technician }).await;
    let gone = invited(app, "Piet Hallam", "piet@fennmark.example").await;
    let address = EmailAddress::parse("piet@fennmark.example").expect("an address");
    let done = anonymise_person(&app.deeds, &address).await.expect("the store");
    assert!(matches!(done, Anonymised::Done { .. }), "{done:?}");
    // As an invitation was put on record before it told role and branch.
    let older = app.person("Ulf Brandt", "ulf@fennmark.example", Role::Trainer).await;
    let entry = NewEntry {
        at: app.clock.now(),
        actor_id: None,
        deed: "person_invited".to_owned(),
        subject_kind: "person".to_owned(),
        subject_id: Some(older.0),
        detail: serde_json::Value::Null,
    };
    write::<_, StoreError, _>(&app.deeds.db, async |tx| record::append(tx, entry).await).await.expect("an entry");
    [
        ("{invited}", invited(app, "Ines Varga", "ines@fennmark.example").await),
        ("{imported}", of(app, "mara@fennmark.example").await),
        ("{changed}", changed),
        ("{gone}", gone),
        ("{older}", older),
    ]
}

#[tokio::test]
async fn tampering_with_what_somebody_is_and_may_is_found() {
    let once = async |db: Db, url: &str| {
        let app = TestApp::start_on(db, Settings { secure_cookies: false, ..Settings::default() }).await;
        let who = made(&app).await;
        let named = |sql: &str| who.iter().fold(sql.to_owned(), |sql, (name, id)| sql.replace(name, &id.to_string()));
        let past = unheld(url).await;
        each_is_found(&past, TAMPERINGS.iter().map(|(sql, says)| (named(sql), *says))).await;
        past.close().await.expect("closed");
        app.stop().await;
    };
    on_each_with_address(once).await;
}

/// A change that goes on from what somebody made of the row brings row and record together again: the entry still tells of it.
#[tokio::test]
async fn a_tampering_that_a_later_change_goes_on_from_is_found() {
    let once = async |db: Db, _: &str| {
        let app = TestApp::start_on(db.clone(), Settings { secure_cookies: false, ..Settings::default() }).await;
        let person = invited(&app, "Ines Varga", "ines@fennmark.example").await;
        let forged = format!("UPDATE person SET role = 'administrator' WHERE id = {person}");
        db.execute_unprepared(&forged).await.expect("forged");
        change(&app, person, Standing { role: Role::Technician, branch: app.branch, active: true }).await;
        let found = check_record(&db, &[]).await.expect("a check");
        let faults: Vec<String> = found.faults.iter().map(ToString::to_string).collect();
        assert!(faults.iter().any(|fault| fault.ends_with("it was not what was on record: role")), "{faults:?}");
        app.stop().await;
    };
    on_each_with_address(once).await;
}
