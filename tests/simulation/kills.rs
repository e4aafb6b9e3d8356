//! The program is killed at random moments while several people save answers, over and over on one database. Whoever was
//! told "saved" finds that answer once; what nobody was told is there whole or not at all.
//!
//! `SOOTMARK_KILLS` says how often, 20 when it is not set.

use crate::support::app::PASSWORD;
use crate::support::client::Client;
use crate::support::program::{Program, Workshop};
use rand::rngs::ChaCha8Rng;
use rand::{Rng as _, SeedableRng as _};
use sea_orm::{ConnectionTrait as _, DatabaseBackend, Statement};
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::grade::Answer;
use sootmark::domain::scenario::question::Kind;
use sootmark::store::record::{self, Verification};
use sootmark::store::{AttemptId, Db, attempts};
use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use tokio::sync::Notify;

const SCHEME: &str = "first-day";
const SITTERS: usize = 4;

/// What the oracle knows of one answer: written down before it is sent, and again when it was acknowledged.
#[derive(Clone, Debug, Default)]
struct Known {
    /// The answer that must be there, as JSON; none when none was ever acknowledged or seen.
    kept: Option<String>,
    /// How often it was saved.
    revision: i32,
    /// Sent, and no reply yet.
    under_way: Option<String>,
}

/// Somebody who answers.
struct Sitter {
    client: Client,
    attempt: AttemptId,
    questions: Vec<(i32, Question)>,
    known: BTreeMap<i32, Known>,
    draws: ChaCha8Rng,
}

fn below(draws: &mut ChaCha8Rng, end: usize) -> usize {
    usize::try_from(draws.next_u64() % u64::try_from(end).expect("small")).expect("small")
}

/// An answer, and the form's fields for it.
fn some_answer(draws: &mut ChaCha8Rng, question: &Question) -> (Answer, Vec<(String, String)>) {
    let options = question.shown.options.len();
    match question.shown.kind {
        Kind::Number => {
            let number = format!("{}.5", below(draws, 40));
            (Answer::Number(number.clone()), vec![("number".to_owned(), number)])
        }
        Kind::PutInOrder => {
            let first = below(draws, options);
            let order: Vec<usize> = (0..options).map(|place| (place + first) % options).collect();
            let fields =
                (1..).zip(&order).map(|(place, option): (usize, _)| (format!("place_{option}"), place.to_string()));
            (Answer::Order(order.clone()), fields.collect())
        }
        Kind::ChooseOne | Kind::ChooseSeveral | Kind::LampPanel => {
            let chosen = below(draws, options);
            (Answer::Options(vec![chosen]), vec![("choice".to_owned(), chosen.to_string())])
        }
    }
}

impl Sitter {
    /// Signs in and begins.
    async fn begin(address: SocketAddr, number: usize, db: &Db) -> Self {
        let mut client = Client::new(address);
        client.get("/sign-in").await;
        let email = format!("sitter{number}@example.org");
        assert_eq!(client.post("/sign-in", &[("email", &email), ("password", PASSWORD)]).await.status, 303);
        client.get("/examine").await;
        let begun = client.post(&format!("/examine/{SCHEME}"), &[]).await;
        let attempt = begun.location().split('/').nth(3).and_then(|id| id.parse().ok());
        let attempt: AttemptId = attempt.unwrap_or_else(|| panic!("begun, and sent to \"{}\"", begun.location()));
        let asked = attempts::questions(db, attempt).await.expect("the questions");
        let questions = asked.into_iter().filter_map(|asked| {
            let question: Question = serde_json::from_str(&asked.question.json).expect("a question");
            // The parts of a case are answered once and in order; here answers are changed over and over.
            question.shown.case.is_none().then_some((asked.position, question))
        });
        let draws = ChaCha8Rng::seed_from_u64(number as u64);
        Self { client, attempt, questions: questions.collect(), known: BTreeMap::new(), draws }
    }

    /// Saves answers until the program is gone.
    async fn answer_on(mut self, events: Arc<Events>) -> Self {
        loop {
            let place = below(&mut self.draws, self.questions.len());
            let (position, question) = &self.questions[place];
            let (answer, fields) = some_answer(&mut self.draws, question);
            let known = self.known.entry(*position).or_default();
            known.under_way = Some(serde_json::to_string(&answer).expect("JSON"));
            events.one();
            let path = format!("/examine/sitting/{}/{position}", self.attempt);
            let Ok(reply) = self.client.try_post(&path, &fields).await else { return self };
            assert_eq!(reply.status, 303, "{path}: {}", reply.text());
            known.kept = known.under_way.take();
            known.revision += 1;
            events.one();
        }
    }

    /// Holds what is in the database against what is known, and takes over what nobody was told.
    async fn compare(&mut self, db: &Db) {
        let rows = attempts::responses(db, self.attempt).await.expect("the answers");
        for row in &rows {
            assert!(self.known.contains_key(&row.position), "an answer that nobody sent: {row:?}");
        }
        for (position, known) in &mut self.known {
            let mut found = rows.iter().filter(|row| row.position == *position);
            let (row, second) = (found.next(), found.next());
            assert!(second.is_none(), "question {position} has two answers");
            let kept = row.map(|row| (row.revision, row.answer.clone()));
            let acknowledged = known.kept.clone().map(|answer| (known.revision, answer));
            if kept != acknowledged {
                let unanswered = known.under_way.clone().map(|answer| (known.revision + 1, answer));
                assert!(kept == unanswered, "question {position}: {kept:?} is there, {known:?} was sent");
                (known.revision, known.kept) = kept.map_or((0, None), |(revision, answer)| (revision, Some(answer)));
            }
            known.under_way = None;
        }
    }
}

/// Counts what is sent and what is acknowledged, and says when it is time.
struct Events {
    left: AtomicUsize,
    now: Notify,
}

impl Events {
    fn one(&self) {
        if self.left.fetch_sub(1, Ordering::SeqCst) == 1 {
            self.now.notify_one();
        }
    }
}

/// Lets everybody answer until so many things happened, kills the program, and waits for everybody to notice.
async fn kill_after(program: Program, sitters: Vec<Sitter>, count: usize) -> Vec<Sitter> {
    let events = Arc::new(Events { left: AtomicUsize::new(count), now: Notify::new() });
    let answering: Vec<_> =
        sitters.into_iter().map(|sitter| tokio::spawn(sitter.answer_on(Arc::clone(&events)))).collect();
    events.now.notified().await;
    program.kill();
    let mut sitters = Vec::new();
    for one in answering {
        sitters.push(one.await.expect("a sitter"));
    }
    sitters
}

async fn is_sound(db: &Db) {
    let check = Statement::from_string(DatabaseBackend::Sqlite, "PRAGMA integrity_check");
    let said = db.query_one_raw(check).await.expect("an answer").expect("a row");
    assert_eq!(said.try_get_by_index::<String>(0).expect("a text"), "ok");
    let chain = record::verify(db).await.expect("the record");
    assert!(matches!(chain, Verification::Whole { .. }), "{chain:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whatever_was_called_saved_outlives_a_kill_at_any_moment() {
    let kills: usize = std::env::var("SOOTMARK_KILLS").map_or(20, |count| count.parse().expect("a number of kills"));
    let (workshop, _) = Workshop::with_technicians(SITTERS, SCHEME).await;
    let mut draws = ChaCha8Rng::seed_from_u64(9);
    let mut program = workshop.serve();
    let address = program.address;
    let mut sitters = Vec::new();
    let db = workshop.open().await;
    for number in 0..SITTERS {
        sitters.push(Sitter::begin(address, number, &db).await);
    }
    db.close().await.expect("it closes");
    for kill in 0..kills {
        sitters = kill_after(program, sitters, 1 + below(&mut draws, 120)).await;
        let db = workshop.open().await;
        is_sound(&db).await;
        for sitter in &mut sitters {
            sitter.compare(&db).await;
        }
        db.close().await.expect("it closes");
        // The sessions hold on: nobody signs in again.
        program = workshop.serve_again(address);
        assert_eq!(sitters[0].client.get("/examine").await.status, 200, "after kill {kill}");
    }
    let acknowledged: i32 = sitters.iter().flat_map(|sitter| sitter.known.values()).map(|known| known.revision).sum();
    assert!(usize::try_from(acknowledged).expect("positive") > kills, "{acknowledged} answers in all");
    for sitter in &mut sitters {
        let review = sitter.client.get(&format!("/examine/sitting/{}/review", sitter.attempt)).await;
        let key = review.between("name=\"submit_key\" value=\"", "\"").expect("a key").to_owned();
        let submit = format!("/examine/sitting/{}/submit", sitter.attempt);
        assert_eq!(sitter.client.post(&submit, &[("submit_key", &key)]).await.status, 303);
    }
    let db = workshop.open().await;
    is_sound(&db).await;
    for sitter in &mut sitters {
        sitter.compare(&db).await;
        let result = attempts::find_result(&db, sitter.attempt).await.expect("the store");
        assert!(result.is_some(), "graded once it was handed in");
    }
    db.close().await.expect("it closes");
}
