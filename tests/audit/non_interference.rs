//! Two questions that look alike and have different keys give the same page, byte by byte, until the answer is in: what
//! a page shows can depend on nothing but what may be shown.
//!
//! The pages are the server's own, fetched by a signed-in browser.

use crate::support::app::{BEGINNING, TestApp, address_of};
use crate::support::client::Client;
use crate::support::sittings::{fields_of, right};
use sea_orm::{ConnectionTrait as _, Statement};
use sootmark::domain::people::Role;
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::generate::{Seed, generate};
use sootmark::domain::scenario::question::{Key, WrongNumber};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::attempts::{self, AttemptKind, NewAttempt, NewQuestion};
use sootmark::store::{AttemptId, PersonId, StoreError, people, write};

/// Questions of one attempt.
const TOGETHER: usize = 25;
/// Questions of one test; there are four.
const EACH: u64 = 2_500;

/// Questions that look like this one, behind which everything that is not shown is different. Hints are shown in
/// practice, so there they stay.
fn other(question: &Question, beside: &Question, kind: AttemptKind) -> Question {
    let mut other = question.clone();
    other.key = match &question.key {
        Key::Options(right) => {
            let wrong: Vec<usize> = (0..question.choices.len()).filter(|place| !right.contains(place)).collect();
            Key::Options(wrong.into_iter().take(right.len().max(1)).collect())
        }
        Key::Order(right) => Key::Order(right.iter().rev().copied().collect()),
        Key::Number { value, tolerance } => {
            let mut value = *value;
            value.value = value.value * 2.0 + 1.0;
            Key::Number { value, tolerance: *tolerance }
        }
    };
    for (place, choice) in other.choices.iter_mut().enumerate() {
        choice.why = format!("Another reason {place}.");
        choice.believes = choice.believes.is_none().then(|| format!("another_belief_{place}"));
    }
    other.wrong_numbers = vec![WrongNumber { believes: "another".to_owned(), value: 7.5, why: "Another.".to_owned() }];
    other.verdict = beside.verdict.clone();
    other.situation = beside.situation;
    other.reasons = vec!["Another reason altogether.".to_owned()];
    other.cautions = beside.cautions.clone();
    other.mandatory = !question.mandatory;
    other.level = question.level % 3 + 1;
    other.source.stream ^= 1;
    if kind == AttemptKind::Examination {
        other.hints = vec!["Another hint.".to_owned()];
    }
    assert_eq!(other.shown, question.shown);
    assert_ne!(other.key, question.key, "{}", question.source.template);
    other
}

fn frozen(question: &Question) -> NewQuestion {
    NewQuestion {
        template_key: question.source.template.clone(),
        template_version: 1,
        machine_key: question.source.machine.clone(),
        machine_version: 1,
        model_version: 1,
        competence_key: question.competence.clone(),
        mandatory: question.mandatory,
        // Each stands alone here, also one that is a part of a case.
        part: 1,
        parts: 1,
        json: String::from_utf8(question.bytes()).expect("UTF-8"),
    }
}

struct Reader {
    app: TestApp,
    browser: Client,
    person: PersonId,
}

impl Reader {
    async fn start() -> Self {
        let app = TestApp::start_with_bank().await;
        let browser = app.signed_in(Role::Technician).await;
        let person = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await.expect("the store");
        Self { app, browser, person: person.expect("the technician").id }
    }

    async fn open(&self, kind: AttemptKind, number: u64, questions: &[Question]) -> AttemptId {
        let examination = kind == AttemptKind::Examination;
        let new = NewAttempt {
            person_id: self.person,
            kind,
            // One examination of a scheme is open at a time: each has a scheme of its own.
            scheme_key: examination.then(|| format!("scheme-{number}")),
            scheme_version: examination.then_some(1),
            module_key: (!examination).then(|| "fire-and-burns".to_owned()),
            seed: [7; 32],
            temperature_unit: TemperatureUnit::Celsius,
            started_at: BEGINNING,
            deadline_at: examination.then(|| BEGINNING.plus_seconds(3600)),
        };
        let questions = questions.iter().map(frozen).collect();
        let opened = async |tx: &_| attempts::open_attempt(tx, new, questions).await;
        write::<_, StoreError, _>(&self.app.deeds.db, opened).await.expect("an attempt")
    }

    async fn pages(&mut self, kind: AttemptKind, attempt: AttemptId) -> Vec<String> {
        let mut pages = Vec::new();
        for position in 1..=TOGETHER {
            let reply = self.browser.get(&page_of(kind, attempt, position)).await;
            assert_eq!(reply.status, 200);
            pages.push(reply.body);
        }
        pages
    }

    async fn put(&self, attempt: AttemptId, questions: &[Question]) {
        let done = write::<_, StoreError, _>(&self.app.deeds.db, async |tx| {
            for (position, question) in (1_i64..).zip(questions) {
                let sql = "UPDATE attempt_question SET question = $1 WHERE attempt_id = $2 AND position = $3";
                let values = [frozen(question).json.into(), attempt.0.into(), position.into()];
                tx.execute_raw(Statement::from_sql_and_values(tx.get_database_backend(), sql, values)).await?;
            }
            Ok(())
        });
        done.await.expect("other questions");
    }
}

fn page_of(kind: AttemptKind, attempt: AttemptId, position: usize) -> String {
    match kind {
        AttemptKind::Practice => format!("/practise/question/{attempt}/{position}"),
        AttemptKind::Examination => format!("/examine/sitting/{attempt}/{position}"),
    }
}

/// Different questions of the whole bank on every machine.
fn generated(reader: &Reader, from: u64) -> Vec<Question> {
    let in_use = reader.app.deeds.bank.now();
    let templates: Vec<_> = in_use.bank.templates().collect();
    let machines: Vec<_> = in_use.bank.machines().collect();
    let mut questions = Vec::new();
    for stream in from.. {
        let place = usize::try_from(stream).expect("small");
        let (entry, machine) = (templates[place % templates.len()], machines[place / templates.len() % machines.len()]);
        let seed = Seed { secret: *b"two keys behind one question, 32", stream };
        let made = generate(&entry.template, entry.version, machine, seed, TemperatureUnit::Celsius);
        questions.extend(made.ok());
        if questions.len() == TOGETHER {
            break;
        }
    }
    questions
}

async fn pages_depend_on_what_is_shown(quarter: u64) {
    let mut reader = Reader::start().await;
    let mut seen = 0;
    let mut from = quarter * 1_000_000;
    while seen < EACH {
        let questions = generated(&reader, from);
        from += 1_000;
        for kind in [AttemptKind::Examination, AttemptKind::Practice] {
            let beside = questions.iter().cycle().skip(1);
            let others: Vec<Question> =
                questions.iter().zip(beside).map(|(question, beside)| other(question, beside, kind)).collect();
            let attempt = reader.open(kind, from, &questions).await;
            let first = reader.pages(kind, attempt).await;
            reader.put(attempt, &others).await;
            let second = reader.pages(kind, attempt).await;
            for ((first, second), question) in first.iter().zip(&second).zip(&questions) {
                assert!(first == second, "{kind:?}: the page of {} knows more than is shown", question.source.template);
            }
        }
        seen += TOGETHER as u64;
    }
    reader.app.stop().await;
}

#[tokio::test]
async fn pages_depend_on_what_is_shown_first_quarter() {
    pages_depend_on_what_is_shown(0).await;
}

#[tokio::test]
async fn pages_depend_on_what_is_shown_second_quarter() {
    pages_depend_on_what_is_shown(1).await;
}

#[tokio::test]
async fn pages_depend_on_what_is_shown_third_quarter() {
    pages_depend_on_what_is_shown(2).await;
}

#[tokio::test]
async fn pages_depend_on_what_is_shown_last_quarter() {
    pages_depend_on_what_is_shown(3).await;
}

/// The comparison can fail: once the answer is in, the same two questions give different pages.
#[tokio::test]
async fn after_the_answer_the_pages_part() {
    let mut reader = Reader::start().await;
    let questions = generated(&reader, 0);
    let beside = questions.iter().cycle().skip(1);
    let kind = AttemptKind::Practice;
    let others: Vec<Question> =
        questions.iter().zip(beside).map(|(question, beside)| other(question, beside, kind)).collect();
    let attempt = reader.open(kind, 0, &questions).await;
    for (position, question) in (1..).zip(&questions) {
        let page = page_of(kind, attempt, position);
        let reply = reader.browser.post_all(&page, &fields_of(&right(question))).await;
        assert_eq!(reply.status, 303, "{}", question.source.template);
    }
    let first = reader.pages(kind, attempt).await;
    reader.put(attempt, &others).await;
    let second = reader.pages(kind, attempt).await;
    assert!(first.iter().zip(&second).all(|(first, second)| first != second));
    reader.app.stop().await;
}
