//! `sootmark people export` and `anonymise`: all there is about a person, and then no name anywhere but where it is on
//! record.

use super::audit::run;
use crate::audit::Fates;
use crate::support::app::{PASSWORD, address_of};
use crate::support::database::OneDatabase;
use sea_orm::{ConnectionTrait as _, DbBackend, Statement};
use serde_json::Value;
use sootmark::actions::PastBank;
use sootmark::actions::check_record::check_record;
use sootmark::actions::replay_attempt::replay_attempt;
use sootmark::domain::certification::certificate::Number;
use sootmark::domain::people::Role;
use sootmark::store::Db;

const OWEN: &str = "owen.lisle@fennmark.example";

#[tokio::test]
async fn all_there_is_about_a_person_is_written_out() {
    let database = OneDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let browser = fates.app.signed_in_as(OWEN).await;
    let out = database.folder.path().join("owen.json");
    let out = out.to_str().expect("UTF-8");
    let (said, _, code) = run(&database.url, &["people", "export", OWEN, "--out", out]);
    assert_eq!((said, code), (format!("All there is about {OWEN}: {out}\n"), 0));
    let text = std::fs::read_to_string(out).expect("the file");
    let owen: Value = serde_json::from_str(&text).expect("JSON");
    assert_eq!((&owen["format"], &owen["person"]["name"]), (&"sootmark person 1".into(), &"Owen Lisle".into()));
    let count = |field: &str| owen[field].as_array().expect(field).len();
    assert_eq!((count("sessions"), count("attempts"), count("talks"), count("letters")), (1, 1, 1, 1));
    assert!(count("lessons_read") > 5 && count("qualifications") > 0);
    let questions = owen["attempts"][0]["questions"].as_array().expect("questions");
    assert_eq!(questions.len(), 9);
    assert_eq!(questions.iter().filter(|question| question["right"] == false).count(), 1);
    let deeds: Vec<&str> =
        owen["record"].as_array().expect("entries").iter().filter_map(|e| e["deed"].as_str()).collect();
    assert_eq!(deeds, ["examination_begun", "examination_graded", "debrief_held"]);
    for secret in ["\"key\"", "seed\"", "argon2", "token", browser.cookie.as_deref().expect("a cookie")] {
        assert!(!text.contains(secret), "{secret} is in it");
    }
    let head = owen["record_head"].as_str().expect("a head");
    let (said, _, code) = run(&database.url, &["audit", "verify", "--head", head]);
    assert!(said.contains("all in the chain") && code == 0, "{said}");
    // What was decided about whoever passed, and what they hold.
    let hers = database.folder.path().join("ines.json");
    let hers = hers.to_str().expect("UTF-8");
    let (_, _, code) = run(&database.url, &["people", "export", "ines.varga@fennmark.example", "--out", hers]);
    let ines: Value = serde_json::from_str(&std::fs::read_to_string(hers).expect("the file")).expect("JSON");
    let decided = &ines["decisions"][0];
    assert_eq!(
        (&decided["proposed"]["proposes"], &decided["decision"]["decided"]),
        (&"grant".into(), &"granted".into())
    );
    let number = ines["certificates"][0]["number"].as_str().expect("a number");
    assert!(Number::parse(number).is_some() && code == 0, "{number}");
    assert_eq!(ines["certificates"][0]["attempt"], fates.passed.0);
    let nobody = run(&database.url, &["people", "export", "nobody@fennmark.example", "--out", "never.json"]);
    assert!(nobody.1.contains("nobody has this address") && nobody.2 == 1, "{nobody:?}");
    fates.app.stop().await;
    database.close().await;
}

#[tokio::test]
async fn the_help_names_every_member_of_an_export_and_no_other() {
    let database = OneDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let out = database.folder.path().join("owen.json");
    let out = out.to_str().expect("UTF-8");
    let (_, wrong, code) = run(&database.url, &["people", "export", OWEN, "--out", out]);
    assert_eq!(code, 0, "{wrong}");
    let owen: Value = serde_json::from_str(&std::fs::read_to_string(out).expect("the file")).expect("JSON");
    let mut members: Vec<&str> = owen.as_object().expect("an object").keys().map(String::as_str).collect();
    members.sort_unstable();
    let (help, _, _) = run(&database.url, &["people", "export", "--help"]);
    let (_, list) = help.split_once("The file is one JSON object:\n").expect("the list");
    let (list, _) = list.split_once("Moments are in UTC").expect("its end");
    // Two spaces in front of a member, more in front of what goes on.
    let names = list.lines().filter_map(|line| line.strip_prefix("  ").filter(|rest| !rest.starts_with(' ')));
    let mut named: Vec<&str> = names.map(|rest| rest.split(' ').next().unwrap_or_default()).collect();
    named.sort_unstable();
    assert_eq!(named, members);
    // The file as it is says where the chain ended.
    let (said, wrong, code) = run(&database.url, &["audit", "verify", "--head", out]);
    assert!(said.contains("Heads given with --head: 1, all in the chain.") && code == 0, "{said}{wrong}");
    fates.app.stop().await;
    database.close().await;
}

/// Every column of every table that holds the text.
async fn holders(db: &Db, text: &str) -> Vec<String> {
    let rows = async |sql: String| {
        let rows = db.query_all_raw(Statement::from_string(db.get_database_backend(), sql)).await.expect("a query");
        rows.into_iter().map(|row| row.try_get_by_index::<String>(0).expect("a text")).collect::<Vec<_>>()
    };
    let columns = match db.get_database_backend() {
        DbBackend::Postgres => {
            "SELECT table_name || '.' || column_name FROM information_schema.columns
             WHERE table_schema = current_schema() ORDER BY table_name, column_name"
        }
        _ => {
            "SELECT t.name || '.' || c.name FROM sqlite_master t, pragma_table_info(t.name) c
             WHERE t.type = 'table' ORDER BY t.name, c.name"
        }
    };
    let mut found = Vec::new();
    for place in rows(columns.to_owned()).await {
        let (table, column) = place.split_once('.').expect("a table and a column");
        let like = format!("SELECT '{place}' FROM {table} WHERE CAST({column} AS TEXT) LIKE '%{text}%' LIMIT 1");
        found.extend(rows(like).await);
    }
    found
}

#[tokio::test]
async fn a_person_becomes_a_number_and_everything_still_verifies() {
    let database = OneDatabase::fresh().await;
    let db = &database.db;
    let fates = Fates::on(db.clone()).await;
    fates.app.signed_in_as(OWEN).await;
    assert!(holders(db, "Owen").await.len() > 2);
    let before = check_record(db, &[]).await.expect("the check").head;

    let (_, wrong, code) = run(&database.url, &["people", "anonymise", OWEN]);
    assert!(wrong.contains("repeat it with --yes") && code == 2, "{wrong}");
    assert_eq!(check_record(db, &[]).await.expect("the check").head, before, "nothing was changed");
    let (said, told, code) = run(&database.url, &["people", "anonymise", OWEN, "--yes"]);
    assert!(said.contains(" is called Person ") && code == 0, "{said}{told}");
    assert!(told.contains("Notes of talks that stay as they were written, because they are on record: 1."), "{told}");

    assert_eq!((holders(db, "Owen").await, holders(db, "owen").await), (Vec::<String>::new(), Vec::new()));
    assert!(!fates.app.signs_in(OWEN, PASSWORD).await);
    let found = check_record(db, &[before.hash]).await.expect("the check");
    assert!(found.is_whole(), "{found:?}");
    assert_eq!(found.head.entries, before.entries + 1, "it is on record");
    let past = PastBank::read(db).await.expect("the bank");
    let again = replay_attempt(db, &past, fates.failed).await.expect("the store");
    assert_eq!((again.differences, again.same_bytes), (Vec::new(), 9));

    // Refused: an open examination, the last administrator, nobody.
    for (email, says) in [
        ("piet.hallam@fennmark.example", "an examination is open"),
        (address_of(Role::Administrator).as_str(), "the last administrator"),
        (OWEN, "nobody has this address"),
    ] {
        let (_, wrong, code) = run(&database.url, &["people", "anonymise", email, "--yes"]);
        assert!(wrong.contains(says) && code == 1, "{email}: {wrong}");
    }
    fates.app.stop().await;
    database.close().await;
}

#[tokio::test]
async fn a_letter_to_somebody_else_does_not_keep_the_name() {
    let database = OneDatabase::fresh().await;
    let db = &database.db;
    let fates = Fates::on(db.clone()).await;
    // Two letters that name O'Neil as who invites: one is sent, one waits.
    let neil = "neil@fennmark.example";
    fates.app.person("Neil O'Neil", neil, Role::Trainer).await;
    let insert = |sent: &str| {
        format!(
            "INSERT INTO outbox (to_address, to_name, subject, text_body, html_body, deed, created_at, due_at, tries, sent_at)
             VALUES ('mara.tindle@fennmark.example', 'Mara', 'Neil O''Neil invites you', 'By Neil O''Neil.',
               '<p>By Neil O&#x27;Neil.</p>', 'invitation', 0, 0, 0, {sent})"
        )
    };
    for sent in ["NULL", "1"] {
        db.execute_unprepared(&insert(sent)).await.expect("a letter");
    }
    let (said, _, code) = run(&database.url, &["people", "anonymise", neil, "--yes"]);
    assert!(said.contains("Mails removed: 1.") && code == 0, "{said}");
    assert_eq!(holders(db, "Neil").await, Vec::<String>::new());
    assert_eq!(holders(db, "invites you").await, ["outbox.subject"]);
    fates.app.stop().await;
    database.close().await;
}
