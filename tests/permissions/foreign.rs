//! What is somebody else's, asked for by who is let in at that address but not to that thing: the reply is byte for byte the one
//! about a thing that is not there.

use super::{EXISTING, ask, path_of, start};
use crate::support::app::TestApp;
use crate::support::client::{Client, Reply};
use sootmark::domain::certification::certificate::Number;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::people::NewPerson;
use sootmark::store::{StoreError, branches, people, write};
use sootmark::web::routes::{RouteRow, TABLE, Verb};

/// A certificate's number in its right form, which was never given out.
const NOBODYS: Number = Number { year: 2019, running: 987 };

/// The address of the same form with a thing that is nobody's.
fn missing(pattern: &str, path: &str) -> String {
    let of = |(pattern, given): (&str, &str)| match pattern {
        "{id}" | "{attempt}" => "987654".to_owned(),
        "{number}" => NOBODYS.to_string(),
        _ => given.to_owned(),
    };
    pattern.split('/').zip(path.split('/')).map(of).collect::<Vec<_>>().join("/")
}

/// Asks for the thing and for none, and gives what differs.
async fn differs(browser: &mut Client, row: &RouteRow, path: &str) -> Option<String> {
    let missing = missing(row.path, path);
    assert_ne!(missing, path);
    let (theirs, none) = (ask(browser, row, path).await, ask(browser, row, &missing).await);
    // A form without fields may be refused, and a step led back to its sheet, before anything is looked up: for both alike.
    let told = |reply: &Reply, asked: &str| {
        let (status, headers, body) = reply.seen();
        let others = headers.into_iter().filter(|(name, _)| name != "location").collect::<Vec<_>>();
        // Where it leads hangs on the address that was asked for and on nothing else.
        let back = Some(reply.location()).filter(|to| !to.is_empty()).map(|to| asked.starts_with(to));
        (status, others, body, back)
    };
    let same = told(&theirs, path) == told(&none, &missing) && theirs.status >= 300;
    (!same).then(|| format!("{:?} {path}: {}, and {} for {missing}", row.method, theirs.status, none.status))
}

/// Somebody of a role at a branch of their own.
async fn stranger(app: &TestApp, email: &str, role: Role) -> Client {
    let hash = app.deeds.hashing.hash(crate::support::app::PASSWORD.to_owned()).await.expect("a hash");
    let added = write::<_, StoreError, _>(&app.deeds.db, async |tx| {
        let branch_id = match branches::find_by_name(tx, "Elsewhere").await? {
            Some(branch) => branch.id,
            None => branches::insert(tx, "Elsewhere", "UTC").await?,
        };
        let new = NewPerson {
            branch_id,
            email: EmailAddress::parse(email).expect("an address"),
            display_name: PersonName::parse("Test stranger").expect("a name"),
            role,
            password_phc: Some(hash.clone()),
            temperature_unit: TemperatureUnit::Celsius,
            scheme_key: None,
            created_at: app.clock.now(),
        };
        people::insert(tx, new).await
    });
    added.await.expect("a person");
    app.signed_in_as(email).await
}

/// Addresses that hold a thing of one person: their sitting, their practice, their record.
fn personal() -> impl Iterator<Item = (&'static RouteRow, String)> {
    let marks = ["OWN", "PRACTICE", "REFUSED", "CERTIFICATE"];
    let theirs = move |row: &&RouteRow| {
        let example = EXISTING.iter().find(|(pattern, _)| *pattern == row.path);
        example.is_some_and(|(_, path)| marks.iter().any(|mark| path.contains(mark)))
            && row.access.admits(Role::Technician)
    };
    TABLE.iter().filter(theirs).map(|row| (row, path_of(row, Role::Technician)))
}

#[tokio::test]
async fn what_is_anothers_looks_like_what_is_not_there() {
    let app = start().await;
    let mut found = Vec::new();
    for role in [Role::Technician, Role::Trainer] {
        let mut browser = stranger(&app, &format!("stranger-{}@example.org", role.id()), role).await;
        for (row, path) in personal() {
            found.extend(differs(&mut browser, row, &path).await.map(|told| format!("{role}: {told}")));
        }
    }
    assert!(personal().count() >= 12, "the addresses were not found");
    assert_eq!(found, [] as [String; 0]);
    app.stop().await;
}

/// What a service manager reaches whatever its branch: the organisation is one, and the list of who is qualified is for all of it.
/// A certificate may be read and printed by every service manager; only those of its branch change it.
const OF_THE_WHOLE: [&str; 14] = [
    "/people/{id}",
    "/people/{id}/invitation",
    "/people/{id}/trainer",
    "/qualified/people/{id}",
    "/qualified/people/{id}/history",
    "/qualified/people/{id}/sitting/{attempt}",
    "/qualified/people/{id}/observations/{observation}",
    "/decisions/certificates/{number}",
    "/decisions/certificates/{number}/pdf",
    "/decisions/certificates/{number}/signed-file",
    "/assignments/{id}",
    "/assignments/{id}/withdraw",
    "/keys/{id}/revoke",
    "/machines/{id}",
];

#[tokio::test]
async fn a_service_manager_of_another_branch_finds_only_what_is_for_the_whole_organisation() {
    let app = start().await;
    let mut browser = stranger(&app, "stranger-manager@example.org", Role::ServiceManager).await;
    let mut found = Vec::new();
    let mut walked = 0;
    for row in TABLE.iter().filter(|row| row.path.contains('{') && row.access.admits(Role::ServiceManager)) {
        let Some((_, _)) = EXISTING.iter().find(|(pattern, _)| *pattern == row.path) else { continue };
        if OF_THE_WHOLE.contains(&row.path) {
            continue;
        }
        walked += 1;
        found.extend(differs(&mut browser, row, &path_of(row, Role::ServiceManager)).await);
    }
    assert!(walked > 5, "{walked} addresses were walked");
    assert_eq!(found, [] as [String; 0]);
    app.stop().await;
}

#[tokio::test]
async fn a_certificate_of_another_branch_is_not_changed_and_looks_like_none_to_who_tries() {
    let app = start().await;
    let mut browser = stranger(&app, "stranger-manager@example.org", Role::ServiceManager).await;
    let theirs = Number { year: 2026, running: 1 };
    for deed in ["suspended", "reinstated", "withdrawn"] {
        let fields = [("deed", deed), ("reason", "a reason of the test")];
        let of_theirs = browser.post(&format!("/decisions/certificates/{theirs}"), &fields).await;
        let of_none = browser.post(&format!("/decisions/certificates/{NOBODYS}"), &fields).await;
        assert_eq!(of_theirs.seen(), of_none.seen(), "{deed}");
        assert_eq!(of_theirs.status, 404, "{deed}");
    }
    app.stop().await;
}

/// Forms to a draft: with nothing in them, with what its pages send, and wrong.
const TO_A_DRAFT: [&[(&str, &str)]; 7] = [
    &[],
    &[("remark", " "), ("deed", "approve")],
    &[("remark", "A remark of the test."), ("deed", "approve")],
    &[("remark", "A remark of the test."), ("deed", "send_back")],
    &[("remark", "A remark of the test."), ("deed", "no such deed")],
    &[("deed", "take_back")],
    &[("deed", "keep"), ("text", "title: theirs"), ("revision", "1"), ("base", "0"), ("key", "fire/new")],
];

/// The walks above look at what belongs to who sat or to a branch. A draft belongs to its author until it is sent, and other
/// trainers may come to these addresses.
#[tokio::test]
async fn a_draft_that_was_not_sent_looks_to_another_trainer_like_none() {
    let app = start().await;
    app.person("Test second", "second-trainer@example.org", Role::Trainer).await;
    let mut browser = app.signed_in_as("second-trainer@example.org").await;
    let mut found = Vec::new();
    let rows: Vec<_> = TABLE.iter().filter(|row| row.path.starts_with("/templates/drafts/{id}")).collect();
    assert_eq!(rows.len(), 4, "the addresses were not found");
    for row in rows {
        let path = path_of(row, Role::Trainer);
        if row.method == Verb::GET {
            found.extend(differs(&mut browser, row, &path).await);
            continue;
        }
        for fields in TO_A_DRAFT {
            let theirs = browser.post(&path, fields).await;
            let none = browser.post(&missing(row.path, &path), fields).await;
            let same = theirs.seen() == none.seen() && theirs.status >= 400;
            found.extend((!same).then(|| format!("{path} {fields:?}: {}, and {}", theirs.status, none.status)));
        }
    }
    assert_eq!(found, [] as [String; 0]);
    app.stop().await;
}
