//! Saving one answer: nothing is called saved before it is, and what is no answer is shown again as it was typed.

use super::{SCHEME, begun, page_of};
use crate::support::app::TestApp;
use crate::support::sittings::{begin, fields_of, questions_of, right};
use sea_orm::{ConnectionTrait as _, DbBackend};
use sootmark::domain::people::Role;
use sootmark::domain::scenario::question::Kind;
use sootmark::store::attempts;
use std::collections::BTreeSet;

#[tokio::test]
async fn a_script_is_told_saved_when_it_is_in_the_store() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let question = &questions_of(&app, attempt).await[0];
    browser.get(&page_of(attempt, 1)).await;
    app.clock.advance(192);
    let saved = browser.post_by_script(&page_of(attempt, 1), &fields_of(&right(question))).await;
    assert_eq!((saved.status, saved.body.as_str()), (200, "{\"saved\":\"08:03:12\"}"));
    let kept = attempts::responses(&app.deeds.db, attempt).await.expect("the store");
    assert_eq!(kept.len(), 1);
    assert_eq!(kept[0].saved_at, app.clock.now());
    assert_eq!(
        serde_json::from_str::<serde_json::Value>(&kept[0].answer).ok(),
        serde_json::to_value(right(question)).ok()
    );

    let refused = browser.post_by_script(&page_of(attempt, 1), &[]).await;
    assert_eq!(refused.status, 422, "no answer is no reason to say saved");
    assert_eq!(attempts::responses(&app.deeds.db, attempt).await.expect("the store"), kept);
    app.stop().await;
}

/// A table that lets every answer in and refuses at COMMIT: its rows point at a branch that is not there, and that is
/// looked at only then.
const REFUSES_AT_COMMIT: &str = "
CREATE TABLE trap (branch BIGINT NOT NULL REFERENCES branch (id) DEFERRABLE INITIALLY DEFERRED);
CREATE TRIGGER trap_set AFTER INSERT ON response BEGIN INSERT INTO trap (branch) VALUES (999); END;";

/// The same for PostgreSQL.
const REFUSES_AT_COMMIT_OF_POSTGRES: &str = "
CREATE TABLE trap (branch BIGINT NOT NULL REFERENCES branch (id) DEFERRABLE INITIALLY DEFERRED);
CREATE FUNCTION trap_set() RETURNS trigger LANGUAGE plpgsql AS
  $$ BEGIN INSERT INTO trap (branch) VALUES (999); RETURN NEW; END $$;
CREATE TRIGGER trap_set AFTER INSERT ON response FOR EACH ROW EXECUTE FUNCTION trap_set();";

#[tokio::test]
async fn what_fails_at_commit_is_not_called_saved() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let question = &questions_of(&app, attempt).await[0];
    browser.get(&page_of(attempt, 1)).await;
    let (trap, no_trap) = match app.deeds.db.get_database_backend() {
        DbBackend::Postgres => (REFUSES_AT_COMMIT_OF_POSTGRES, "DROP TRIGGER trap_set ON response"),
        _ => (REFUSES_AT_COMMIT, "DROP TRIGGER trap_set"),
    };
    app.deeds.db.execute_unprepared(trap).await.expect("a trap");
    let reply = browser.post_by_script(&page_of(attempt, 1), &fields_of(&right(question))).await;
    assert_eq!(reply.status, 503, "{}", reply.text());
    assert!(!reply.body.contains("\"saved\"") && reply.text().contains("Not known whether it was saved"));
    app.deeds.db.execute_unprepared(no_trap).await.expect("no trap");
    assert!(attempts::responses(&app.deeds.db, attempt).await.expect("the store").is_empty());
    app.stop().await;
}

#[tokio::test]
async fn what_is_no_answer_is_shown_again_as_it_was_typed() {
    let app = TestApp::start_with_bank().await;
    let mut seen: BTreeSet<&str> = BTreeSet::new();
    for sitter in 0..12 {
        let email = format!("sitter{sitter}@example.org");
        let person = app.person_towards("Test sitter", &email, SCHEME).await;
        let attempt = begin(&app, person, "operator").await;
        let mut browser = app.signed_in_as(&email).await;
        for (position, question) in (1..).zip(questions_of(&app, attempt).await) {
            if !seen.insert(question.shown.kind.words()) {
                continue;
            }
            let (typed, field, kept): (Vec<(&str, &str)>, _, Option<&str>) = match question.shown.kind {
                Kind::ChooseOne => {
                    (vec![("choice", "1"), ("choice", "77")], "choice", Some("name=\"choice\" value=\"1\" checked"))
                }
                Kind::ChooseSeveral | Kind::LampPanel => (vec![], "choice", None),
                Kind::PutInOrder => {
                    (vec![("place_0", "2"), ("place_1", "2")], "place", Some("<option value=\"2\" selected>"))
                }
                Kind::Number => (vec![("number", "<b>\"x")], "number", Some("value=\"&lt;b&gt;&quot;x\"")),
            };
            let path = page_of(attempt, position);
            browser.get(&path).await;
            let again = browser.post(&path, &typed).await;
            assert_eq!(again.status, 422, "{}", again.text());
            let error = format!("id=\"{field}-error\"");
            let link = format!("href=\"#{field}\"");
            for part in ["<title>Error: ", "One thing to put right", &link, &format!("id=\"{field}\""), &error] {
                assert!(again.body.contains(part), "{part} in {}", again.body);
            }
            assert!(kept.is_none_or(|kept| again.body.contains(kept)), "{kept:?} in {}", again.body);
            assert!(again.text().contains(&question.shown.prompt));
            assert!(attempts::responses(&app.deeds.db, attempt).await.expect("the store").is_empty());
        }
        if seen.len() == Kind::ALL.len() {
            break;
        }
    }
    assert_eq!(seen.len(), Kind::ALL.len(), "{seen:?}");
    app.stop().await;
}

#[tokio::test]
async fn an_answer_that_comes_from_elsewhere_is_not_taken() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let question = &questions_of(&app, attempt).await[0];
    let answer = fields_of(&right(question));
    let mut foreign = browser.clone();
    foreign.form_token = app.signed_in(Role::Technician).await.form_token;
    assert_eq!(foreign.post_by_script(&page_of(attempt, 1), &answer).await.status, 403);
    assert_eq!(app.browser().post_by_script(&page_of(attempt, 1), &answer).await.status, 401);
    assert!(attempts::responses(&app.deeds.db, attempt).await.expect("the store").is_empty());
    assert_eq!(browser.post_all(&page_of(attempt, 1), &answer).await.status, 303);
    app.stop().await;
}
