//! Sitting an examination: begun once, saved answer by answer, looked through, handed in once, explained.

mod again;
mod cases;
mod flags;
mod key;
mod late;
mod saving;

use super::practise::nothing_given_away;
use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::sittings::{Sat, fields_of, questions_of, read_everything, right, sit, wrong};
use futures_util::future::join_all;
use sootmark::domain::people::Role;
use sootmark::domain::scenario::grade::Answer;
use sootmark::domain::scenario::question::Question;
use sootmark::store::attempts::AttemptState;
use sootmark::store::{AttemptId, PersonId, attempts, people, record};

const SCHEME: &str = "first-day";

/// The test's person of a role.
async fn person(app: &TestApp, role: Role) -> PersonId {
    let found = people::find_by_email_norm(&app.deeds.db, &address_of(role)).await;
    found.expect("the store").expect("a person").id
}

/// The sitting that an address leads to.
fn sitting_of(path: &str) -> AttemptId {
    path.split('/').nth(3).and_then(|id| id.parse().ok()).unwrap_or_else(|| panic!("no sitting in {path}"))
}

/// The technician begins the examination; the lessons are read.
async fn begun(app: &TestApp) -> (Client, AttemptId) {
    read_everything(app, person(app, Role::Technician).await, SCHEME).await;
    let mut browser = app.signed_in(Role::Technician).await;
    let reply = browser.post(&format!("/examine/{SCHEME}"), &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.text());
    (browser, sitting_of(reply.location()))
}

fn page_of(attempt: AttemptId, position: usize) -> String {
    format!("/examine/sitting/{attempt}/{position}")
}

/// Opens the last look and hands in.
async fn hand_in(browser: &mut Client, attempt: AttemptId) -> (String, Reply) {
    let review = browser.get(&format!("/examine/sitting/{attempt}/review")).await;
    let key = review.between("name=\"submit_key\" value=\"", "\"").expect("a key to hand in with").to_owned();
    let reply = hand_in_with(browser, attempt, &key).await;
    (key, reply)
}

async fn hand_in_with(browser: &mut Client, attempt: AttemptId, key: &str) -> Reply {
    browser.post(&format!("/examine/sitting/{attempt}/submit"), &[("submit_key", key)]).await
}

/// That a page shows an answer in the fields of its form.
fn shows(page: &Reply, answer: &Answer) {
    let said = |part: String| assert!(page.body.contains(&part), "{part} in {}", page.body);
    match answer {
        Answer::Options(chosen) => {
            chosen.iter().for_each(|place| said(format!("name=\"choice\" value=\"{place}\" checked")));
            assert_eq!(page.body.matches(" checked").count(), chosen.len());
        }
        Answer::Order(order) => {
            for (place, option) in (1..).zip(order) {
                let select = page.between(&format!("name=\"place_{option}\""), "</select>").expect("a select");
                assert!(select.contains(&format!("<option value=\"{place}\" selected>")), "{select}");
            }
        }
        Answer::Number(typed) => said(format!("value=\"{typed}\"")),
    }
}

/// The deeds on record about a sitting, oldest first, each with who did it.
async fn deeds_of(app: &TestApp, attempt: AttemptId) -> Vec<(String, Option<PersonId>)> {
    let entries = record::of_subject(&app.deeds.db, "attempt", attempt.0).await.expect("the record");
    entries.into_iter().map(|entry| (entry.deed, entry.actor_id)).collect()
}

async fn state(app: &TestApp, attempt: AttemptId) -> AttemptState {
    attempts::by_id_of_anyone(&app.deeds.db, attempt).await.expect("the store").state
}

/// Where the first question of a competence that stands alone is, from 1.
fn first_of(questions: &[Question], competence: &str) -> usize {
    let alone = |question: &Question| question.competence == competence && question.shown.case.is_none();
    questions.iter().position(alone).expect("a question") + 1
}

#[tokio::test]
async fn from_the_first_question_to_the_result() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let again = browser.post(&format!("/examine/{SCHEME}"), &[]).await;
    assert_eq!((again.status, again.location()), (303, page_of(attempt, 1).as_str()), "the same sitting goes on");
    let list = browser.get("/examine").await;
    assert!(list.text().contains("You are sitting this one now."), "{}", list.text());

    let questions = questions_of(&app, attempt).await;
    let (fire, open) = (first_of(&questions, "fire"), first_of(&questions, "lamps"));
    for (position, question) in (1..).zip(&questions) {
        let path = page_of(attempt, position);
        let page = browser.get(&path).await;
        assert!(page.text().contains(&format!("Question {position} of {}", questions.len())), "{}", page.text());
        assert!(page.text().contains(&question.shown.prompt) && page.text().contains("15 min left"), "{}", page.text());
        nothing_given_away(&page, question);
        if position == open {
            continue;
        }
        let answer = if position == fire { wrong(question) } else { right(question) };
        let saved = browser.post_all(&path, &fields_of(&answer)).await;
        let next = if position == questions.len() { "review".to_owned() } else { (position + 1).to_string() };
        assert_eq!((saved.status, saved.location()), (303, format!("/examine/sitting/{attempt}/{next}").as_str()));
        let mut page = browser.get(&path).await;
        shows(&page, &answer);
        assert!(page.text().contains("Saved 08:00:00"), "{}", page.text());
        page.body = page.body.replace(" checked", "");
        if !matches!(answer, Answer::Number(_)) {
            nothing_given_away(&page, question);
        }
    }

    // On another machine it goes on where it was.
    let mut other = app.signed_in(Role::Technician).await;
    shows(&other.get(&page_of(attempt, fire)).await, &wrong(&questions[fire - 1]));
    let review = other.get(&format!("/examine/sitting/{attempt}/review")).await;
    assert!(review.text().contains("One question is open. An open question counts as wrong."), "{}", review.text());
    let row = review.between("<nav class=\"sitting-row\"", "</nav>").expect("the row of all");
    let (_, row) = row.split_once(&format!("href=\"{}\"", page_of(attempt, open))).expect("the open question");
    let (row, _) = row.split_once("</a>").expect("its end");
    assert!(row.contains("open") && review.body.matches(">answered<").count() == questions.len() - 1, "{row}");
    let result_before = other.get(&format!("/examine/sitting/{attempt}/result")).await;
    assert_eq!(result_before.location(), page_of(attempt, 1), "no result before the end");

    let (_, handed_in) = hand_in(&mut other, attempt).await;
    let path = format!("/examine/sitting/{attempt}/result");
    assert_eq!((handed_in.status, handed_in.location()), (303, path.as_str()));
    let result = browser.get(&path).await;
    let bank = app.deeds.bank.now();
    let named = |id: &str| bank.bank.competence(id).expect("a competence").name.clone();
    for words in [
        "7 of 9 right; 75 % are needed.".to_owned(),
        format!("Not qualified: the mandatory safety question {fire} was not answered rightly."),
        format!("{} 2 of 3 50 % passed", named("lamps")),
        format!("{} (mandatory) 1 of 2 100 % not passed", named("fire")),
        format!("{} (mandatory) 2 of 2 100 % passed", named("closed_spaces")),
        format!("{} (mandatory) 2 of 2 100 % passed", named("stop_and_call")),
    ] {
        assert!(result.text().contains(&words), "{words} in {}", result.text());
    }
    for missed in [fire, open] {
        let question = &questions[missed - 1];
        for why in question.reasons.iter().chain(question.choices.iter().map(|choice| &choice.why)) {
            assert!(result.text().contains(why.as_str()), "{why} is not explained");
        }
    }
    assert_eq!(browser.get(&page_of(attempt, 1)).await.location(), path, "the questions lead to the result now");
    app.stop().await;
}

#[tokio::test]
async fn handed_in_twice_counts_once() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let technician = person(&app, Role::Technician).await;
    let (key, first) = hand_in(&mut browser, attempt).await;
    let result = browser.get(first.location()).await;
    let other_key: String = key.chars().rev().collect();
    for again in [&key, &other_key] {
        let reply = hand_in_with(&mut browser, attempt, again).await;
        assert_eq!((reply.status, reply.location()), (303, first.location()));
        assert_eq!(browser.get(reply.location()).await.seen(), result.seen());
    }
    assert_eq!(browser.post(&format!("/examine/sitting/{attempt}/submit"), &[]).await.status, 400, "without a key");
    let by_person = |deed: &str| (deed.to_owned(), Some(technician));
    assert_eq!(deeds_of(&app, attempt).await, [by_person("examination_begun"), by_person("examination_graded")]);
    assert_eq!(app.letters().await.len(), 1);
    app.stop().await;
}

#[tokio::test]
async fn ten_windows_that_hand_in_at_once_have_one_effect() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let review = browser.get(&format!("/examine/sitting/{attempt}/review")).await;
    let key = review.between("name=\"submit_key\" value=\"", "\"").expect("a key").to_owned();
    let windows = (0..10).map(|window| {
        let mut window_browser = browser.clone();
        // Half of them a double click, half of them pages of their own.
        let mut key = key.clone();
        key.replace_range(..1, if window % 2 == 0 { "a" } else { "b" });
        async move { hand_in_with(&mut window_browser, attempt, &key).await }
    });
    for reply in join_all(windows).await {
        let result = format!("/examine/sitting/{attempt}/result");
        assert_eq!((reply.status, reply.location()), (303, result.as_str()), "{}", reply.text());
    }
    assert_eq!(deeds_of(&app, attempt).await.len(), 2, "begun and graded, once each");
    assert_eq!(app.letters().await.len(), 1);
    app.stop().await;
}

#[tokio::test]
async fn of_two_windows_the_last_answer_counts_and_a_closed_sitting_takes_none() {
    let app = TestApp::start_with_bank().await;
    let (mut one, attempt) = begun(&app).await;
    let mut other = app.signed_in(Role::Technician).await;
    let question = &questions_of(&app, attempt).await[0];
    let path = page_of(attempt, 1);
    for (window, answer) in [(&mut one, wrong(question)), (&mut other, right(question))] {
        assert_eq!(window.post_all(&path, &fields_of(&answer)).await.status, 303);
    }
    shows(&one.get(&path).await, &right(question));
    let saved = attempts::responses(&app.deeds.db, attempt).await.expect("the store");
    assert_eq!(saved.iter().map(|response| response.revision).collect::<Vec<_>>(), [2]);

    hand_in(&mut other, attempt).await;
    for fields in [fields_of(&wrong(question)), Vec::new()] {
        let late = one.post_all(&path, &fields).await;
        assert_eq!(late.status, 410, "{}", late.text());
        assert!(late.text().contains("was not saved. What was saved before counts."), "{}", late.text());
        assert!(late.body.contains(&format!("href=\"/examine/sitting/{attempt}/result\"")));
        assert_eq!(one.post_by_script(&path, &fields).await.status, 410);
    }
    assert_eq!(attempts::responses(&app.deeds.db, attempt).await.expect("the store"), saved, "nothing changed");
    app.stop().await;
}

#[tokio::test]
async fn what_keeps_somebody_from_beginning_is_said() {
    let app = TestApp::start_with_bank().await;
    let technician = person(&app, Role::Technician).await;
    let mut browser = app.signed_in(Role::Technician).await;
    let refused = browser.post(&format!("/examine/{SCHEME}"), &[]).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text().contains("Not begun: something has to come first."), "{}", refused.text());
    assert!(refused.text().contains("First read what is open in:"), "{}", refused.text());
    assert!(refused.body.contains("href=\"/learn/fire-and-burns\""));
    assert!(attempts::of_person(&app.deeds.db, technician).await.expect("the store").is_empty());

    // No lamp answered: not passed, no safety question missed. One hour until the next, says the scheme.
    sit(&app, technician, SCHEME, Sat::WithoutLamps).await;
    let refused = browser.post(&format!("/examine/{SCHEME}"), &[]).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text().contains("You can sit again on 24 Nov 2026 at 09:00"), "{}", refused.text());
    app.clock.advance(3599);
    assert_eq!(browser.post(&format!("/examine/{SCHEME}"), &[]).await.status, 422);
    app.clock.advance(1);

    let missed = sit(&app, technician, SCHEME, Sat::MissingFire).await;
    app.clock.advance(24 * 3600);
    let mut browser = app.signed_in(Role::Technician).await;
    let refused = browser.post(&format!("/examine/{SCHEME}"), &[]).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text().contains("You missed a safety question. Your trainer goes through it with you"));
    assert!(refused.body.contains(&format!("href=\"/examine/sitting/{missed}/result\"")), "{}", refused.text());
    assert_eq!(browser.post("/examine/no-such", &[]).await.status, 404);
    app.stop().await;
}

#[tokio::test]
async fn anothers_sitting_looks_like_none() {
    let app = TestApp::start_with_bank().await;
    let (_, attempt) = begun(&app).await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let practice = trainer.post("/practise/lamps", &[]).await;
    let practice = sitting_of(practice.location());
    for rest in ["1", "review", "result", "99", "x"] {
        let missing = trainer.get(&format!("/examine/sitting/999/{rest}")).await;
        assert_eq!(missing.status, 404);
        for not_theirs in [attempt, practice] {
            let foreign = trainer.get(&format!("/examine/sitting/{not_theirs}/{rest}")).await;
            assert_eq!(foreign.seen(), missing.seen(), "{not_theirs} {rest}");
        }
    }
    let key = "a".repeat(64);
    for (rest, fields) in [("1", [("choice", "0")]), ("submit", [("submit_key", key.as_str())])] {
        let missing = trainer.post(&format!("/examine/sitting/999/{rest}"), &fields).await;
        assert_eq!(missing.status, 404);
        for not_theirs in [attempt, practice] {
            let foreign = trainer.post(&format!("/examine/sitting/{not_theirs}/{rest}"), &fields).await;
            assert_eq!(foreign.seen(), missing.seen(), "{not_theirs} {rest}");
        }
    }
    assert_eq!(state(&app, attempt).await, AttemptState::Open);
    // Who sent something there is on record, once, and nothing else has changed.
    let (technician, stranger) = (person(&app, Role::Technician).await, person(&app, Role::Trainer).await);
    let expected = [("examination_begun", technician), ("stranger_refused", stranger)];
    assert_eq!(deeds_of(&app, attempt).await, expected.map(|(deed, by)| (deed.to_owned(), Some(by))));
    assert!(attempts::responses(&app.deeds.db, attempt).await.expect("the store").is_empty());
    app.stop().await;
}

#[tokio::test]
async fn forged_times_and_a_second_hand_in_with_other_answers_change_nothing() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let question = &questions_of(&app, attempt).await[0];
    let path = page_of(attempt, 1);
    let forged = ["saved_at", "started_at", "submitted_at", "deadline_at", "now", "extra_s"];
    let mut fields = fields_of(&right(question));
    fields.extend(forged.map(|name| (name.to_owned(), "1".to_owned())));
    let before = attempts::by_id_of_anyone(&app.deeds.db, attempt).await.expect("the store");
    app.clock.advance(61);
    assert_eq!(browser.post_all(&path, &fields).await.status, 303);
    let saved = attempts::responses(&app.deeds.db, attempt).await.expect("the store");
    assert_eq!(saved.iter().map(|saved| saved.saved_at).collect::<Vec<_>>(), [app.clock.now()], "the server's clock");
    assert_eq!(attempts::by_id_of_anyone(&app.deeds.db, attempt).await.expect("the store"), before);

    let (key, first) = hand_in(&mut browser, attempt).await;
    let result = attempts::find_result(&app.deeds.db, attempt).await.expect("the store");
    for key in [key.clone(), key.chars().rev().collect()] {
        let mut fields = fields_of(&wrong(question));
        fields.push(("submit_key".to_owned(), key));
        fields.push(("submitted_at".to_owned(), "1".to_owned()));
        let again = browser.post_all(&format!("/examine/sitting/{attempt}/submit"), &fields).await;
        assert_eq!((again.status, again.location()), (303, first.location()));
    }
    assert_eq!(browser.post_all(&path, &fields_of(&wrong(question))).await.status, 410);
    assert_eq!(attempts::responses(&app.deeds.db, attempt).await.expect("the store"), saved);
    assert_eq!(attempts::find_result(&app.deeds.db, attempt).await.expect("the store"), result);
    let deeds: Vec<String> = deeds_of(&app, attempt).await.into_iter().map(|(deed, _)| deed).collect();
    assert_eq!(deeds, ["examination_begun", "made_up_fields_ignored", "examination_graded", "late_answer_refused"]);
    app.stop().await;
}
