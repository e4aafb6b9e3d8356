//! The key of an open sitting stays on the server: no page of it says anything that depends on the key.

use super::{SCHEME, begun, page_of, person};
use crate::pages::practise::nothing_given_away;
use crate::support::app::TestApp;
use crate::support::client::{Client, Reply};
use crate::support::sittings::{fields_of, questions_of};
use sootmark::domain::bank::Bank;
use sootmark::domain::people::Role;
use sootmark::domain::scenario::generate::{Machine, Seed, generate};
use sootmark::domain::scenario::grade::Answer;
use sootmark::domain::scenario::question::{Key, Kind, Question};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::attempts::{self, AttemptKind, NewAttempt, NewQuestion};
use sootmark::store::{AttemptId, PersonId, StoreError, write};
use std::collections::BTreeSet;

#[tokio::test]
async fn no_page_says_anything_of_an_open_sittings_key() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let questions = questions_of(&app, attempt).await;
    let mut pages = Vec::new();
    for position in 1..=questions.len() {
        pages.push(browser.get(&page_of(attempt, position)).await);
        pages.push(browser.post(&page_of(attempt, position), &[("choice", "99"), ("number", "x")]).await);
    }
    for path in [&format!("/examine/sitting/{attempt}/review"), "/examine", "/", "/record", "/practise", "/learn"] {
        pages.push(browser.get(path).await);
    }
    for page in &pages {
        assert!([200, 409, 422].contains(&page.status), "{}", page.text());
        questions.iter().for_each(|question| nothing_given_away(page, question));
    }
    app.stop().await;
}

#[tokio::test]
async fn no_other_address_shows_a_sitting_before_it_is_handed_in() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let technician = person(&app, Role::Technician).await;
    let practice = format!("/practise/question/{attempt}/1");
    for path in [&practice, &format!("/record/sitting/{attempt}")] {
        assert_eq!(browser.get(path).await.status, 404, "{path}");
    }
    assert_eq!(browser.post(&practice, &[("choice", "0")]).await.status, 404);
    let trainer = app.signed_in(Role::Trainer).await.get(&format!("/debriefs/{attempt}")).await;
    assert_eq!(trainer.status, 404);
    let elsewhere = format!("/qualified/people/{technician}/sitting/{attempt}");
    assert_eq!(app.signed_in(Role::ServiceManager).await.get(&elsewhere).await.status, 404);
    assert!(attempts::responses(&app.deeds.db, attempt).await.expect("the store").is_empty());
    assert!(attempts::grades(&app.deeds.db, attempt).await.expect("the store").is_empty());
    app.stop().await;
}

/// Questions of every template on every machine that it fits, a few draws of each.
fn some_questions(bank: &Bank) -> Vec<Question> {
    let machines: Vec<&Machine> = bank.machines().collect();
    let mut questions = Vec::new();
    for (entry, stream) in bank.templates().flat_map(|entry| (0..2).map(move |stream| (entry, stream))) {
        for machine in &machines {
            let seed = Seed { secret: [7; 32], stream };
            questions.extend(generate(&entry.template, entry.version, machine, seed, TemperatureUnit::Celsius).ok());
        }
    }
    questions
}

/// The same to look at, with everything behind it another: key, reasons, beliefs, source, situation, verdict.
fn twisted(question: &Question, other: &Question) -> Question {
    let mut twisted = question.clone();
    twisted.key = match &question.key {
        Key::Options(right) => {
            let count = question.choices.len();
            let mut moved: Vec<usize> = right.iter().map(|place| (place + 1) % count).collect();
            moved.sort_unstable();
            Key::Options(moved)
        }
        Key::Order(right) => Key::Order(right.iter().rev().copied().collect()),
        Key::Number { value, tolerance } => {
            let mut value = *value;
            value.value += 10.0 * tolerance.value + 17.0;
            Key::Number { value, tolerance: *tolerance }
        }
    };
    for choice in &mut twisted.choices {
        choice.why = "Something else altogether.".to_owned();
        choice.believes = choice.believes.is_none().then(|| "never-idle".to_owned());
    }
    for wrong in &mut twisted.wrong_numbers {
        wrong.value += 5.0;
        wrong.why = "Another number.".to_owned();
    }
    twisted.source.clone_from(&other.source);
    twisted.competence.clone_from(&other.competence);
    twisted.mandatory = !question.mandatory;
    twisted.level = question.level % 3 + 1;
    twisted.situation = other.situation;
    twisted.verdict = other.verdict.clone();
    twisted.reasons = vec!["Because.".to_owned()];
    twisted.cautions.clone_from(&other.cautions);
    assert_eq!(twisted.shown, question.shown);
    assert_ne!(twisted.key, question.key);
    twisted
}

fn kept(question: &Question) -> NewQuestion {
    let source = &question.source;
    NewQuestion {
        template_key: source.template.clone(),
        template_version: 1,
        machine_key: source.machine.clone(),
        machine_version: 1,
        model_version: 1,
        competence_key: question.competence.clone(),
        mandatory: question.mandatory,
        json: String::from_utf8(question.bytes()).expect("JSON"),
        part: 1,
        parts: 1,
    }
}

/// Opens a sitting with just these questions.
async fn sitting_with(app: &TestApp, person: PersonId, questions: &[Question], seed: u8) -> AttemptId {
    let now = app.clock.now();
    let new = NewAttempt {
        person_id: person,
        kind: AttemptKind::Examination,
        scheme_key: Some(SCHEME.to_owned()),
        scheme_version: Some(1),
        module_key: None,
        seed: [seed; 32],
        temperature_unit: TemperatureUnit::Celsius,
        started_at: now,
        deadline_at: Some(now.plus_seconds(900)),
    };
    let questions = questions.iter().map(kept).collect();
    write::<_, StoreError, _>(&app.deeds.db, async |tx| attempts::open_attempt(tx, new, questions).await)
        .await
        .expect("a sitting")
}

/// An answer that every question of a kind takes, whatever its key.
fn some_answer(question: &Question) -> Answer {
    match question.shown.kind {
        Kind::ChooseOne | Kind::ChooseSeveral | Kind::LampPanel => Answer::Options(vec![0]),
        Kind::PutInOrder => Answer::Order((0..question.choices.len()).collect()),
        Kind::Number => Answer::Number("7".to_owned()),
    }
}

/// Everything that a candidate can get to see of a sitting before it is handed in, without the sitting's own number.
async fn all_that_is_seen(browser: &mut Client, attempt: AttemptId, questions: &[Question]) -> Vec<Reply> {
    let mut replies = Vec::new();
    for (position, question) in (1..).zip(questions) {
        let path = page_of(attempt, position);
        replies.push(browser.get(&path).await);
        replies.push(browser.post(&path, &[("choice", "99"), ("number", "7 of them")]).await);
        let answer = fields_of(&some_answer(question));
        replies.push(browser.post_by_script(&path, &answer).await);
        assert_eq!(replies.last().map(|reply| reply.status), Some(200));
        replies.push(browser.post_all(&path, &answer).await);
        replies.push(browser.get(&path).await);
    }
    for path in [&format!("/examine/sitting/{attempt}/result"), "/examine", "/"] {
        replies.push(browser.get(path).await);
    }
    let (own, any) = (format!("/examine/sitting/{attempt}/"), "/examine/sitting/N/");
    for reply in &mut replies {
        reply.body = reply.body.replace(&own, any);
        let length = reply.body.len().to_string();
        for (name, value) in &mut reply.headers {
            // The length too is told without the number, which has more digits in a later sitting.
            *value = if name == "content-length" { length.clone() } else { value.replace(&own, any) };
        }
    }
    replies
}

#[tokio::test]
async fn pages_of_an_open_sitting_do_not_depend_on_the_key() {
    let app = TestApp::start_with_bank().await;
    let technician = person(&app, Role::Technician).await;
    let mut browser = app.signed_in(Role::Technician).await;
    let questions = some_questions(&app.deeds.bank.now().bank);
    assert!(questions.len() >= 200, "only {} questions", questions.len());
    let kinds: BTreeSet<&str> = questions.iter().map(|question| question.shown.kind.words()).collect();
    assert_eq!(kinds.len(), Kind::ALL.len(), "{kinds:?}");
    let mut compared = 0;
    for (seed, one) in (0..).zip(questions.chunks(10)) {
        let others = one.iter().enumerate().map(|(at, question)| twisted(question, &questions[(at * 31 + 7) % 97]));
        let other: Vec<Question> = others.collect();
        let mut seen = Vec::new();
        for behind in [one, other.as_slice()] {
            let attempt = sitting_with(&app, technician, behind, seed).await;
            seen.push(all_that_is_seen(&mut browser, attempt, one).await);
            let closed = write::<_, StoreError, _>(&app.deeds.db, async |tx| {
                attempts::mark_submitted(tx, technician, attempt, Some("k"), app.clock.now()).await
            });
            closed.await.expect("handed in");
        }
        for (one, other) in seen[0].iter().zip(&seen[1]) {
            assert_eq!(one.seen(), other.seen());
            compared += 1;
        }
    }
    assert!(compared > 5 * questions.len(), "{compared}");

    // What can be seen does show: the comparison would find a page that says one word more.
    let plain = questions[0].clone();
    let mut one_word_more = plain.clone();
    one_word_more.shown.prompt.push_str(" Really?");
    let one = sitting_with(&app, technician, &[plain], 0).await;
    let one = browser.get(&page_of(one, 1)).await;
    let elsewhere = app.person("Test other", "other@example.org", Role::Technician).await;
    let other = sitting_with(&app, elsewhere, &[one_word_more], 0).await;
    let other = app.signed_in_as("other@example.org").await.get(&page_of(other, 1)).await;
    assert!(other.text().contains("Really?") && !one.text().contains("Really?"));
    app.stop().await;
}
