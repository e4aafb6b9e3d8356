//! The server's clock: an answer after the deadline is not taken, and the sitting is handed in without its owner.

use super::{SCHEME, begun, deeds_of, hand_in_with, page_of, person, state};
use crate::support::app::TestApp;
use crate::support::sittings::{begin, fields_of, questions_of, right, wrong};
use sootmark::actions::close_overdue::close_overdue;
use sootmark::actions::load_bank::load_bank;
use sootmark::domain::people::Role;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::attempts::{self, AttemptKind, AttemptState, NewAttempt};
use sootmark::store::{StoreError, write};

/// What the scheme gives: 15 min.
const TIME_LIMIT_S: i64 = 900;

#[tokio::test]
async fn an_answer_after_the_deadline_is_refused_and_what_was_saved_counts() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let questions = questions_of(&app, attempt).await;
    app.clock.advance(TIME_LIMIT_S - 59);
    assert!(browser.get(&page_of(attempt, 1)).await.text().contains("Less than 1 min left"));
    app.clock.advance(59);
    let last = browser.post_all(&page_of(attempt, 1), &fields_of(&right(&questions[0]))).await;
    assert_eq!(last.status, 303, "the last second is still in time");
    let saved = attempts::responses(&app.deeds.db, attempt).await.expect("the store");

    app.clock.advance(1);
    let late = browser.post_all(&page_of(attempt, 1), &fields_of(&wrong(&questions[0]))).await;
    assert_eq!(late.status, 410, "{}", late.text());
    assert!(late.text().contains("was not saved. What was saved before counts."), "{}", late.text());
    assert_eq!(attempts::responses(&app.deeds.db, attempt).await.expect("the store"), saved, "nothing changed");
    for fields in [fields_of(&right(&questions[1])), Vec::new()] {
        assert_eq!(browser.post_by_script(&page_of(attempt, 2), &fields).await.status, 410, "{fields:?}");
    }
    assert_eq!(state(&app, attempt).await, AttemptState::Expired, "whoever comes too late finds the result");

    let result = browser.get(&format!("/examine/sitting/{attempt}/result")).await;
    for words in ["1 of 9 right", "Handed in by the clock on 24 Nov 2026 at 08:15", "were not answered rightly"] {
        assert!(result.text().contains(words), "{words} in {}", result.text());
    }
    let technician = person(&app, Role::Technician).await;
    let expected = [
        ("examination_begun".to_owned(), Some(technician)),
        ("examination_graded".to_owned(), None),
        ("late_answer_refused".to_owned(), Some(technician)),
    ];
    assert_eq!(
        deeds_of(&app, attempt).await,
        expected,
        "the clock hands in, not the person; late answers are told once"
    );
    assert_eq!(app.letters().await.len(), 1);
    app.stop().await;
}

#[tokio::test]
async fn the_clock_hands_in_what_nobody_comes_back_to() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    assert_eq!(close_overdue(&app.deeds).await.expect("the store"), 0);
    app.clock.advance(TIME_LIMIT_S);
    assert_eq!(close_overdue(&app.deeds).await.expect("the store"), 0, "the last second is still in time");
    app.clock.advance(1);
    // Between the end of the time and the clock's hand no page looks as if answers were still taken.
    for path in [page_of(attempt, 1), format!("/examine/sitting/{attempt}/review")] {
        let over = browser.get(&path).await;
        assert_eq!(over.status, 410, "{}", over.text());
        assert!(over.text().contains("It is graded now: the result is there in a moment."), "{}", over.text());
        assert!(!over.body.contains("name=\"choice\"") && !over.body.contains("submit_key"));
    }
    let list = browser.get("/examine").await.text();
    assert!(list.contains("Your time is over.") && !list.contains("You are sitting this one now."), "{list}");
    assert_eq!(state(&app, attempt).await, AttemptState::Open, "nothing is changed by reading");

    assert_eq!(close_overdue(&app.deeds).await.expect("the store"), 1);
    assert_eq!(state(&app, attempt).await, AttemptState::Expired);
    assert_eq!(close_overdue(&app.deeds).await.expect("the store"), 0);
    let page = browser.get(&page_of(attempt, 1)).await;
    assert_eq!(page.location(), format!("/examine/sitting/{attempt}/result"));
    assert!(browser.get(page.location()).await.text().contains("0 of 9 right"));
    app.stop().await;
}

#[tokio::test]
async fn handing_in_after_the_deadline_is_the_clocks_deed() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    browser.get(&page_of(attempt, 1)).await;
    app.clock.advance(TIME_LIMIT_S + 1);
    let reply = hand_in_with(&mut browser, attempt, &"a".repeat(64)).await;
    assert_eq!((reply.status, reply.location()), (303, format!("/examine/sitting/{attempt}/result").as_str()));
    assert_eq!(state(&app, attempt).await, AttemptState::Expired);
    assert_eq!(deeds_of(&app, attempt).await.last().map(|(_, by)| *by), Some(None));
    app.stop().await;
}

#[tokio::test]
async fn beginning_again_after_the_deadline_does_not_go_on_with_the_old_sitting() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    app.clock.advance(TIME_LIMIT_S + 1);
    let again = browser.post(&format!("/examine/{SCHEME}"), &[]).await;
    // No safety question was answered: that is a miss like any other.
    assert_eq!(again.status, 422, "{}", again.text());
    assert!(again.text().contains("You missed a safety question."), "{}", again.text());
    assert_eq!(state(&app, attempt).await, AttemptState::Expired);
    app.stop().await;
}

#[tokio::test]
async fn one_sitting_that_cannot_be_graded_keeps_no_other_open() {
    let app = TestApp::start_with_bank().await;
    let broken = app.person("Test broken", "broken@example.org", Role::Technician).await;
    let now = app.clock.now();
    let new = NewAttempt {
        person_id: broken,
        kind: AttemptKind::Examination,
        scheme_key: Some("no-such-scheme".to_owned()),
        scheme_version: Some(1),
        module_key: None,
        seed: [1; 32],
        temperature_unit: TemperatureUnit::Celsius,
        started_at: now,
        deadline_at: Some(now.plus_seconds(60)),
    };
    let opened = write::<_, StoreError, _>(&app.deeds.db, async |tx| attempts::open_attempt(tx, new, Vec::new()).await);
    let opened = opened.await.expect("a sitting");
    let whole = begin(&app, person(&app, Role::Technician).await, SCHEME).await;
    app.clock.advance(TIME_LIMIT_S + 1);
    assert!(close_overdue(&app.deeds).await.is_err(), "the one that cannot be graded is not kept quiet");
    assert_eq!(state(&app, whole).await, AttemptState::Expired);
    assert_eq!(state(&app, opened).await, AttemptState::Open);
    app.stop().await;
}

#[tokio::test]
async fn a_sitting_is_graded_though_one_of_its_competences_has_another_name_by_now() {
    let app = TestApp::start_with_bank().await;
    let person = app.person("Test sitter", "sitter@example.org", Role::Technician).await;
    let attempt = crate::support::sittings::begin(&app, person, "first-day").await;
    let mut files = sootmark::bank_files::embedded();
    for file in &mut files {
        file.text = file.text.replace("closed_spaces", "shut_spaces");
    }
    load_bank(&app.deeds, files, Vec::new(), 0).await.expect("the bank");
    assert!(app.deeds.bank.now().bank.competences().iter().any(|competence| competence.id == "shut_spaces"));
    app.clock.advance(24 * 3600);
    assert_eq!(close_overdue(&app.deeds).await.expect("it can be graded"), 1);
    assert!(attempts::find_result(&app.deeds.db, attempt).await.expect("the store").is_some());
    app.stop().await;
}
