//! Whom may I send? The question at its address, for people and for programs: by machine, branch and day.

use crate::support::app::TestApp;
use crate::support::client::{Client, Reply};
use crate::support::sittings::{Sat, certify, manager, sit};
use serde_json::Value;
use sootmark::actions::Token;
use sootmark::actions::access_key::make_access_key;
use sootmark::actions::change_certificate::{CertificateChange, change_certificate};
use sootmark::domain::certification::certificate::EventKind;
use sootmark::domain::people::Role;
use sootmark::store::{BranchId, StoreError, branches, write};

const DAY: i64 = 86_400;

async fn elsewhere(app: &TestApp, name: &str) -> BranchId {
    let added = write::<_, StoreError, _>(&app.deeds.db, async |tx| branches::insert(tx, name, "Europe/Dublin").await);
    added.await.expect("a branch")
}

fn read(reply: &Reply) -> Value {
    assert_eq!(reply.header("content-type"), Some("application/json"), "{}", reply.body);
    serde_json::from_str(&reply.body).expect("JSON")
}

/// The names of those who may be sent, and of those who may not with their state and note.
async fn ask(reader: &mut Client, query: &str) -> (Vec<String>, Vec<(String, String, String)>) {
    let reply = reader.get(&format!("/qualified/who?format=json&{query}")).await;
    assert_eq!(reply.status, 200, "{query}: {}", reply.body);
    let answer = read(&reply);
    let word = |one: &Value, field: &str| one[field].as_str().expect("a text").to_owned();
    let all = |field: &str| answer[field].as_array().expect("people").clone();
    let may = all("may_be_sent").iter().map(|one| word(one, "name")).collect();
    let not = |one: &Value| (word(one, "name"), word(one, "state"), word(one, "note"));
    (may, all("may_not_be_sent").iter().map(not).collect())
}

#[tokio::test]
async fn the_answer_knows_machine_branch_and_day() {
    let app = TestApp::start_with_bank().await;
    let saltmarsh = elsewhere(&app, "Saltmarsh").await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    let question = "competence=fire&machine=tarrel-60";
    assert_eq!(ask(&mut reader, question).await.0, ["Ines Varga"]);
    assert_eq!(ask(&mut reader, &format!("{question}&branch=coldbrook")).await.0, ["Ines Varga"]);
    assert_eq!(ask(&mut reader, &format!("{question}&branch={saltmarsh}")).await.0, [] as [&str; 0]);
    // Granted at 08:00 on 24 Nov 2026, for three years: the day before nothing is known of it; the day itself is not whole
    // when it is asked about later; the last day is not whole either.
    assert_eq!(ask(&mut reader, &format!("{question}&day=2026-11-23")).await.0, [] as [&str; 0]);
    assert_eq!(ask(&mut reader, &format!("{question}&day=2029-11-23")).await.0, ["Ines Varga"]);
    let (may, not) = ask(&mut reader, &format!("{question}&day=2029-11-24")).await;
    assert_eq!(may, [] as [&str; 0]);
    let ines_then = not.iter().find(|one| one.0 == "Ines Varga").expect("Ines");
    assert!(ines_then.1 == "missing" && ines_then.2.contains("for a part of the day only"), "{ines_then:?}");

    app.clock.advance(2 * DAY);
    let mut reader = app.signed_in(Role::ServiceManager).await;
    assert_eq!(ask(&mut reader, &format!("{question}&day=2026-11-24")).await.0, [] as [&str; 0]);
    assert_eq!(ask(&mut reader, &format!("{question}&day=2026-11-25")).await.0, ["Ines Varga"]);
    app.stop().await;
}

#[tokio::test]
async fn what_happened_later_does_not_change_what_was_true_on_a_day() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    let number = certify(&app, ines, "first-day").await;
    app.clock.advance(10 * DAY);
    let by = manager(&app).await;
    let reason = "Left the bales where they lay.";
    let changed = change_certificate(&app.deeds, by, number, EventKind::Withdrawn, reason).await.expect("the store");
    assert_eq!(changed, CertificateChange::Done);
    app.suspend(ines).await;
    app.clock.advance(DAY);
    let mut reader = app.signed_in(Role::ServiceManager).await;
    let question = "competence=fire&machine=tarrel-60";
    // 4 Dec: withdrawn, and gone.
    let (may, not) = ask(&mut reader, question).await;
    assert!(may.is_empty() && !not.iter().any(|one| one.0 == "Ines Varga"), "{not:?}");
    // An auditor asks about 1 Dec: then she could.
    assert_eq!(ask(&mut reader, &format!("{question}&day=2026-12-01")).await.0, ["Ines Varga"]);
    let (may, not) = ask(&mut reader, &format!("{question}&day=2026-12-04")).await;
    assert!(may.is_empty(), "withdrawn during that day");
    let then = not.iter().find(|one| one.0 == "Ines Varga").expect("Ines");
    assert!(then.2.contains("withdrawn on 4 Dec 2026") && then.2.contains("is no longer here"), "{then:?}");
    let page = reader.get(&format!("/qualified/who?{question}&day=2026-12-01")).await.text();
    assert!(page.contains("1 person could be sent on 1 Dec 2026 to Fire and burns on"), "{page}");
    assert!(page.contains("As it was known on that day"), "{page}");
    app.stop().await;
}

#[tokio::test]
async fn a_certificate_for_other_machines_sends_nobody_to_this_one() {
    let app = TestApp::start_with_bank().await;
    let in_use = app.deeds.bank.now();
    // A scheme that is not for every machine of the bank.
    let narrow = in_use.bank.schemes().find(|entry| !entry.scheme.machines.is_empty()).map(|entry| &entry.scheme);
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    if narrow.is_none() {
        // The bank's schemes are for every machine: take one out of her certificate's scope.
        use sea_orm::ConnectionTrait as _;
        let unlocked = match app.deeds.db.get_database_backend() {
            sea_orm::DbBackend::Postgres => "ALTER TABLE certificate_machine DISABLE TRIGGER USER",
            _ => "DROP TRIGGER tr_certificate_machine_delete",
        };
        for sql in [unlocked, "DELETE FROM certificate_machine WHERE machine_key = 'hobrek-40'"] {
            app.deeds.db.execute_unprepared(sql).await.expect("SQL");
        }
    }
    let mut reader = app.signed_in(Role::ServiceManager).await;
    assert_eq!(ask(&mut reader, "competence=fire&machine=tarrel-60").await.0, ["Ines Varga"]);
    let (may, not) = ask(&mut reader, "competence=fire&machine=hobrek-40").await;
    assert_eq!(may, [] as [&str; 0]);
    let note = &not.iter().find(|one| one.0 == "Ines Varga").expect("Ines").2;
    assert!(note.starts_with("not for this machine, only for "), "{note}");
    app.stop().await;
}

#[tokio::test]
async fn an_open_safety_miss_keeps_somebody_from_the_work() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    app.clock.advance(DAY);
    sit(&app, ines, "first-day", Sat::MissingFire).await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    let (may, not) = ask(&mut reader, "competence=fire&machine=tarrel-60").await;
    assert_eq!(may, [] as [&str; 0]);
    assert_eq!(not.iter().find(|one| one.0 == "Ines Varga").expect("Ines").1, "suspended");
    let reply = reader.get("/qualified/who?format=json&competence=lamps&machine=tarrel-60").await;
    assert_eq!(read(&reply)["may_be_sent"][0]["open_safety_misses"][0], "Fire and burns");
    app.stop().await;
}

#[tokio::test]
async fn a_question_that_is_not_understood_is_said_so_with_what_to_do() {
    let app = TestApp::start_with_bank().await;
    let mut reader = app.signed_in(Role::ServiceManager).await;
    assert_eq!(reader.get("/qualified/who").await.status, 200, "nothing asked yet");
    let wrong = "competence=fire&machine=no-such&branch=Nowhere&day=2026-02-30";
    let page = reader.get(&format!("/qualified/who?{wrong}")).await;
    assert_eq!(page.status, 422);
    let text = page.text();
    for words in ["3 things to put right", "There is no machine", "There is no branch", "Write it as 2026-11-24"] {
        assert!(text.contains(words), "{words} in {text}");
    }
    assert!(page.body.contains("value=\"2026-02-30\""), "what was asked stays");
    // Source: RFC 9457: the media type, and the members title, status and detail.
    let reply = reader.get(&format!("/qualified/who?format=json&{wrong}")).await;
    assert_eq!((reply.status, reply.header("content-type")), (422, Some("application/problem+json")));
    let problem: Value = serde_json::from_str(&reply.body).expect("JSON");
    assert_eq!(problem["status"], 422);
    assert!(problem["title"].is_string() && problem["detail"].is_string() && problem["type"] == "about:blank");
    let fields: Vec<&str> =
        problem["errors"].as_array().expect("errors").iter().filter_map(|e| e["field"].as_str()).collect();
    assert_eq!(fields, ["machine", "branch", "day"]);
    let by_header = reader.send("GET", "/qualified/who", &[("Accept", "application/json")], "").await;
    assert_eq!(by_header.status, 422);
    app.stop().await;
}

/// Makes a key with a form that is sent twice.
async fn key_of_two_clicks(app: &TestApp, maker: &mut Client) -> String {
    let click = maker.get("/keys").await.between("name=\"click\" value=\"", "\"").expect("a click").to_owned();
    let fields = |label: &'static str| [("label", label), ("branch", ""), ("click", click.as_str())];
    assert_eq!(maker.post("/keys", &fields("")).await.status, 422);
    let made = maker.post("/keys", &fields("Job planner")).await;
    let key = made.between("id=\"key\">", "<").expect("the key, once").to_owned();
    let twice = maker.post("/keys", &fields("Job planner")).await;
    assert_eq!(twice.between("id=\"key\">", "<"), Some(key.as_str()), "the same click, the same key");
    assert_eq!(twice.body.matches("/revoke").count(), 1, "and one of it");
    assert!(!maker.get("/keys").await.body.contains(&key), "never again");
    use sea_orm::ConnectionTrait as _;
    let sql = format!("SELECT 1 FROM access_key WHERE key_hash = '{key}'");
    let kept = app.deeds.db.query_one_raw(sea_orm::Statement::from_string(sea_orm::DbBackend::Sqlite, sql)).await;
    assert!(kept.expect("SQL").is_none(), "only its hash is kept");
    key
}

#[tokio::test]
async fn a_program_asks_with_a_key_until_it_is_revoked() {
    let app = TestApp::start_with_bank().await;
    let saltmarsh = elsewhere(&app, "Saltmarsh").await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    let mut maker = app.signed_in(Role::ServiceManager).await;
    let key = key_of_two_clicks(&app, &mut maker).await;
    let path = "/qualified/who?competence=fire&machine=tarrel-60";
    let with = async |key: &str, path: &str| {
        let header = format!("Bearer {key}");
        app.browser().send("GET", path, &[("Authorization", &header)], "").await
    };
    let reply = with(&key, path).await;
    let answer = read(&reply);
    assert_eq!(answer["may_be_sent"][0]["name"], "Ines Varga");
    assert_eq!(answer["question"]["machine"]["id"], "tarrel-60");
    assert_eq!(answer["format"], "sootmark who 1");
    assert!(answer["may_be_sent"][0].get("email").is_none(), "no more than the question needs");
    let file = with(&key, &format!("{path}&format=csv")).await;
    assert!(file.body.starts_with("may be sent,person,branch,state,note,") && file.body.contains("yes,Ines Varga"));
    assert_eq!(with(&key, "/qualified").await.status, 303, "a key opens nothing else");
    assert_eq!(with(&key, "/qualified.csv").await.status, 303);

    // Source: RFC 6750 section 3: a request without a key is told the scheme, one with a bad key also the error.
    let none = app.browser().get(&format!("{path}&format=json")).await;
    assert_eq!((none.status, none.header("www-authenticate")), (401, Some("Bearer realm=\"Sootmark\"")));
    for bad in ["x", &"0".repeat(64), &key.to_uppercase()] {
        let reply = with(bad, path).await;
        assert_eq!(reply.status, 401, "{bad}");
        assert_eq!(reply.header("www-authenticate"), Some("Bearer realm=\"Sootmark\", error=\"invalid_token\""));
        assert_eq!(reply.header("content-type"), Some("application/problem+json"));
    }

    // Kept to a branch: another one looks like one that is not there.
    let by = manager(&app).await.person;
    let narrow =
        make_access_key(&app.deeds, by, "Yard screen", Some(saltmarsh), &Token::fresh().expect("random bytes"))
            .await
            .expect("the store");
    let foreign = with(narrow.as_str(), &format!("{path}&branch=Coldbrook")).await;
    let missing = with(narrow.as_str(), &format!("{path}&branch=Nowhere00")).await;
    assert_eq!((foreign.status, missing.status), (422, 422));
    assert_eq!(foreign.body.replace("Coldbrook", "X"), missing.body.replace("Nowhere00", "X"));
    assert_eq!(read(&with(narrow.as_str(), path).await)["may_be_sent"], serde_json::json!([]));

    assert_eq!(maker.post("/keys/1/revoke", &[]).await.status, 303);
    assert_eq!(maker.post("/keys/1/revoke", &[]).await.status, 303, "twice is as once");
    assert_eq!(maker.post("/keys/99/revoke", &[]).await.status, 404);
    assert_eq!(with(&key, path).await.status, 401);
    assert_eq!(with(narrow.as_str(), path).await.status, 200);
    // Who made it leaves: it opens nothing any more.
    app.suspend(by).await;
    assert_eq!(with(narrow.as_str(), path).await.status, 401);
    let entries = sootmark::store::record::of_subject(&app.deeds.db, "access_key", 1).await.expect("the record");
    let deeds: Vec<&str> = entries.iter().map(|entry| entry.deed.as_str()).collect();
    assert_eq!(deeds, ["access_key_made", "access_key_revoked"]);
    assert!(entries.iter().all(|entry| !entry.detail.contains("planner")), "no words that may be a name");
    app.stop().await;
}
