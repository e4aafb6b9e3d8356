//! Examinations sat through the deeds, without a browser: passed, failed, or failed on a mandatory safety question.

use super::app::{TestApp, address_of};
use sootmark::actions::begin_examination::{Begun, begin_with_code};
use sootmark::actions::decide::{Asked, Decided, Decider, decide};
use sootmark::actions::invigilate::{Invigilator, Opened, Typed, open_invigilation};
use sootmark::actions::read_lesson::read_lesson;
use sootmark::actions::save_answer::{AnswerSaved, save_answer};
use sootmark::actions::submit_examination::{Submitted, submit_examination};
use sootmark::domain::certification::certificate::Number;
use sootmark::domain::certification::decision::Verdict;
use sootmark::domain::people::Role;
use sootmark::domain::scenario::grade::Answer;
use sootmark::domain::scenario::question::{Key, Question};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::{AttemptId, InvigilationId, PersonId, attempts, invigilations, people};

/// How a sitting goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sat {
    /// Everything is right.
    Right,
    /// Everything is right but the questions on lamps, which stay without an answer.
    WithoutLamps,
    /// Everything is right but the first mandatory safety question on fire.
    MissingFire,
}

/// Reads every lesson of a scheme's modules.
pub(crate) async fn read_everything(app: &TestApp, person: PersonId, scheme: &str) {
    let read = app.deeds.bank.now();
    for key in &read.bank.scheme(scheme).expect("the scheme").scheme.modules {
        for lesson in &read.bank.module(key).expect("the module").lessons {
            assert!(read_lesson(&app.deeds, person, key, &lesson.id).await.expect("the store"));
        }
    }
}

/// Opens an invigilation of a scheme as the branch's trainer; gives its number and the code that the trainer reads out.
pub(crate) async fn watch(app: &TestApp, scheme: &str) -> (InvigilationId, String) {
    let trainer = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Trainer)).await.expect("the store");
    let by = Invigilator { person: trainer.expect("a trainer").id, branch: app.branch };
    let key = format!("a key at {}", app.clock.now().0);
    let Opened::Open(id) = open_invigilation(&app.deeds, by, scheme, &key).await.expect("the store") else {
        panic!("nobody watches {scheme}")
    };
    let found = invigilations::by_id(&app.deeds.db, app.branch, id).await.expect("the invigilation");
    (id, found.code.to_string())
}

/// Begins a sitting, with the trainer's code where somebody watches; the lessons are read.
pub(crate) async fn begin(app: &TestApp, person: PersonId, scheme: &str) -> AttemptId {
    read_everything(app, person, scheme).await;
    let watched = app.deeds.bank.now().bank.scheme(scheme).is_some_and(|entry| entry.scheme.invigilated);
    let code = if watched { watch(app, scheme).await.1 } else { String::new() };
    let typed = Typed { code: &code, address: "192.0.2.1" };
    match begin_with_code(&app.deeds, person, TemperatureUnit::Celsius, scheme, typed).await.expect("the store") {
        Begun::Sitting(attempt) => attempt,
        other => panic!("{other:?}"),
    }
}

/// Sits and hands in.
pub(crate) async fn sit(app: &TestApp, person: PersonId, scheme: &str, sat: Sat) -> AttemptId {
    let attempt = begin(app, person, scheme).await;
    let mut missed_fire = false;
    for asked in attempts::questions(&app.deeds.db, attempt).await.expect("the questions") {
        let question: Question = serde_json::from_str(&asked.question.json).expect("a question");
        let answer = match (sat, question.competence.as_str()) {
            (Sat::WithoutLamps, "lamps") => continue,
            (Sat::MissingFire, "fire") if !missed_fire => {
                missed_fire = true;
                wrong(&question)
            }
            _ => right(&question),
        };
        let saved = save_answer(&app.deeds, person, attempt, asked.position, &answer).await.expect("the store");
        assert!(matches!(saved, AnswerSaved::Saved(_)), "{saved:?}");
    }
    let done = submit_examination(&app.deeds, person, attempt, "a key of the test").await.expect("the store");
    assert_eq!(done, Submitted::Graded);
    attempt
}

/// Passes an examination and is granted the certificate by the branch's service manager.
pub(crate) async fn certify(app: &TestApp, person: PersonId, scheme: &str) -> Number {
    let attempt = sit(app, person, scheme, Sat::Right).await;
    grant(app, attempt).await
}

/// Grants the certificate that is proposed after a sitting, as the branch's service manager.
pub(crate) async fn grant(app: &TestApp, attempt: AttemptId) -> Number {
    match decided(app, manager(app).await, attempt, Verdict::Granted, "").await {
        Decided::Done(Some(number)) => number,
        other => panic!("{other:?}"),
    }
}

/// The branch's service manager.
pub(crate) async fn manager(app: &TestApp) -> Decider {
    let found = people::find_by_email_norm(&app.deeds.db, &address_of(Role::ServiceManager)).await.expect("the store");
    Decider { person: found.expect("a service manager").id, role: Role::ServiceManager, branch: app.branch }
}

/// Decides about a sitting; each time with another key.
pub(crate) async fn decided(app: &TestApp, by: Decider, attempt: AttemptId, verdict: Verdict, reason: &str) -> Decided {
    let key = format!("{} {verdict:?} {reason}", by.person);
    decide(&app.deeds, by, Asked { attempt, verdict, reason, key: &key }).await.expect("the store")
}

/// The answer that the model gives.
pub(crate) fn right(question: &Question) -> Answer {
    match &question.key {
        Key::Options(right) => Answer::Options(right.clone()),
        Key::Order(right) => Answer::Order(right.clone()),
        Key::Number { value, .. } => Answer::Number(value.value.to_string()),
    }
}

/// An answer that is wrong.
pub(crate) fn wrong(question: &Question) -> Answer {
    match &question.key {
        Key::Options(right) => {
            let other = (0..question.choices.len()).find(|place| !right.contains(place));
            Answer::Options(vec![other.expect("a wrong option")])
        }
        Key::Order(right) => Answer::Order(right.iter().rev().copied().collect()),
        Key::Number { value, tolerance } => Answer::Number((value.value + 3.0 * tolerance.value + 1.0).to_string()),
    }
}

/// An answer as the fields that a form sends it in.
pub(crate) fn fields_of(answer: &Answer) -> Vec<(String, String)> {
    match answer {
        Answer::Options(chosen) => chosen.iter().map(|place| ("choice".to_owned(), place.to_string())).collect(),
        Answer::Order(order) => {
            (1..).zip(order).map(|(place, option): (usize, _)| (format!("place_{option}"), place.to_string())).collect()
        }
        Answer::Number(typed) => vec![("number".to_owned(), typed.clone())],
    }
}

/// The questions of an attempt with their keys, in order.
pub(crate) async fn questions_of(app: &TestApp, attempt: AttemptId) -> Vec<Question> {
    let asked = attempts::questions(&app.deeds.db, attempt).await.expect("the questions");
    asked.iter().map(|asked| serde_json::from_str(&asked.question.json).expect("a question")).collect()
}
