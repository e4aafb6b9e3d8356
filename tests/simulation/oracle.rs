//! Who answers in a simulation, and the oracle: it writes down what is sent before it is sent, and what was acknowledged, and
//! holds the database against that. Never asks the program what is saved.

use crate::support::app::PASSWORD;
use crate::support::client::{Client, Reply};
use crate::support::program::Program;
use rand::rngs::ChaCha8Rng;
use rand::{Rng as _, SeedableRng as _};
use sea_orm::{ConnectionTrait as _, DatabaseBackend, Statement};
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::grade::Answer;
use sootmark::domain::scenario::question::Kind;
use sootmark::store::record::{self, Verification};
use sootmark::store::{AttemptId, Db, attempts};
use std::collections::BTreeMap;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use tokio::sync::Notify;

/// What everybody sits.
pub(super) const SCHEME: &str = "first-day";

/// What the oracle knows of one answer: written down before it is sent, and again when it was acknowledged.
#[derive(Clone, Debug, Default)]
pub(super) struct Known {
    /// The answer that must be there, as JSON; none when none was ever acknowledged or seen.
    pub(super) kept: Option<String>,
    /// How often it was saved.
    pub(super) revision: i32,
    /// Sent, and no reply yet.
    pub(super) under_way: Option<String>,
}

/// Somebody who answers.
pub(super) struct Sitter {
    pub(super) client: Client,
    pub(super) attempt: AttemptId,
    questions: Vec<(i32, Question)>,
    pub(super) known: BTreeMap<i32, Known>,
    draws: ChaCha8Rng,
    /// The power is gone: nobody is told anything any more, so a reply that still comes counts for nothing.
    gone: Arc<AtomicBool>,
}

/// A number from 0 to below `end`.
pub(super) fn below(draws: &mut ChaCha8Rng, end: usize) -> usize {
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

/// The answer that a form's fields say.
fn answer_of(question: &Question, fields: &[(String, String)]) -> Answer {
    let number = |text: &str| text.parse::<usize>().expect("a place");
    let values = || fields.iter().map(|(_, value)| value.as_str());
    match question.shown.kind {
        Kind::Number => Answer::Number(values().next().expect("a number").to_owned()),
        Kind::PutInOrder => {
            let mut placed: Vec<(usize, usize)> = fields
                .iter()
                .map(|(name, place)| (number(place), number(name.strip_prefix("place_").expect("a place"))))
                .collect();
            placed.sort_unstable();
            Answer::Order(placed.into_iter().map(|(_, option)| option).collect())
        }
        Kind::ChooseOne | Kind::ChooseSeveral | Kind::LampPanel => Answer::Options(values().map(number).collect()),
    }
}

impl Sitter {
    /// Signs in and begins.
    pub(super) async fn begin(address: SocketAddr, number: usize, db: &Db) -> Self {
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
        Self { client, attempt, questions: questions.collect(), known: BTreeMap::new(), draws, gone: Arc::default() }
    }

    /// Saves one answer to some question. It counts as acknowledged only when the reply says so; `None` is a reply that came
    /// and said so, and otherwise what was answered instead.
    ///
    /// # Errors
    /// The program is gone.
    pub(super) async fn answer(&mut self) -> io::Result<Option<Reply>> {
        let place = below(&mut self.draws, self.questions.len());
        let (position, question) = &self.questions[place];
        let (answer, fields) = some_answer(&mut self.draws, question);
        let known = self.known.entry(*position).or_default();
        // A reply that did not come, or said that nothing is known, leaves this standing until somebody has looked.
        assert!(known.under_way.is_none(), "question {position}: looked at before anything else is sent");
        known.under_way = Some(serde_json::to_string(&answer).expect("JSON"));
        let path = format!("/examine/sitting/{}/{position}", self.attempt);
        let reply = self.client.try_post(&path, &fields).await?;
        if self.gone.load(Ordering::SeqCst) {
            return Err(io::ErrorKind::ConnectionAborted.into());
        }
        if reply.status == 303 {
            known.kept = known.under_way.take();
            known.revision += 1;
            return Ok(None);
        }
        if reply.text().contains("Nothing was saved") {
            known.under_way = None;
        }
        Ok(Some(reply))
    }

    /// Saves answers until the blow is over, or the program refuses or is gone.
    async fn answer_on(mut self, events: Arc<Events>) -> Self {
        while !events.over.load(Ordering::SeqCst) {
            events.one();
            let Ok(refused) = self.answer().await else { return self };
            if let Some(refused) = refused {
                // Before the blow nothing may be refused.
                assert!(events.struck.load(Ordering::SeqCst), "{}", refused.text());
                assert!([500, 503].contains(&refused.status), "{}", refused.text());
                return self;
            }
            events.one();
        }
        self
    }

    /// Sends once more what a page of the program's has kept, as its button does; it is under way then, and not yet known.
    pub(super) async fn send_again(&mut self, kept: &Reply) -> io::Result<Reply> {
        let path = kept.between("<form method=\"post\" action=\"", "\"").expect("a form").to_owned();
        let position = path.rsplit('/').next().and_then(|place| place.parse().ok()).expect("a question's page");
        let hidden = kept.body.split("<input type=\"hidden\" name=\"").skip(1);
        let fields: Vec<(String, String)> = hidden
            .filter_map(|field| {
                let (name, rest) = field.split_once("\" value=\"")?;
                Some((name.to_owned(), rest.split_once('"')?.0.to_owned()))
            })
            .filter(|(name, _)| name != "form_token")
            .collect();
        let (_, question) = self.questions.iter().find(|(place, _)| *place == position).expect("a question");
        let known = self.known.entry(position).or_default();
        assert!(known.under_way.is_none(), "question {position}: looked at before it is sent again");
        known.under_way = Some(serde_json::to_string(&answer_of(question, &fields)).expect("JSON"));
        let reply = self.client.try_post(&path, &fields).await?;
        if reply.status == 303 {
            known.kept = known.under_way.take();
            known.revision += 1;
        }
        Ok(reply)
    }

    /// Hands in; gives what was replied.
    pub(super) async fn hand_in(&mut self) -> Reply {
        let review = self.client.get(&format!("/examine/sitting/{}/review", self.attempt)).await;
        let key = review.between("name=\"submit_key\" value=\"", "\"").expect("a key").to_owned();
        self.client.post(&format!("/examine/sitting/{}/submit", self.attempt), &[("submit_key", &key)]).await
    }

    /// Holds what is in the database against what is known, and takes over what nobody was told.
    pub(super) async fn compare(&mut self, db: &Db) {
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
    /// The blow has begun.
    struck: AtomicBool,
    /// It has been dealt; who was not hit stops.
    over: AtomicBool,
}

impl Events {
    fn one(&self) {
        if self.left.fetch_sub(1, Ordering::SeqCst) == 1 {
            self.now.notify_one();
        }
    }
}

/// Lets everybody answer until so many things happened, kills the program, and waits for everybody to notice.
pub(super) async fn kill_after(program: Program, sitters: Vec<Sitter>, count: usize) -> Vec<Sitter> {
    kill_after_blow(program, sitters, count, |_| {}).await
}

/// The same, with a blow to the machine right before the kill; who is told by then that something failed stops too.
pub(super) async fn kill_after_blow(
    program: Program,
    sitters: Vec<Sitter>,
    count: usize,
    blow: impl FnOnce(&AtomicBool),
) -> Vec<Sitter> {
    let both = |gone: &AtomicBool| {
        blow(gone);
        program.kill();
    };
    blow_after(sitters, count, both).await
}

/// Lets everybody answer until so many things happened, deals a blow, and waits for everybody to notice, or to have gone on
/// until it was dealt.
pub(super) async fn blow_after(mut sitters: Vec<Sitter>, count: usize, blow: impl FnOnce(&AtomicBool)) -> Vec<Sitter> {
    let gone = Arc::new(AtomicBool::new(false));
    sitters.iter_mut().for_each(|sitter| sitter.gone = gone.clone());
    let (now, left) = (Notify::new(), AtomicUsize::new(count));
    let events = Arc::new(Events { left, now, struck: AtomicBool::new(false), over: AtomicBool::new(false) });
    let answering: Vec<_> =
        sitters.into_iter().map(|sitter| tokio::spawn(sitter.answer_on(Arc::clone(&events)))).collect();
    events.now.notified().await;
    events.struck.store(true, Ordering::SeqCst);
    blow(&gone);
    events.over.store(true, Ordering::SeqCst);
    let mut sitters = Vec::new();
    for one in answering {
        sitters.push(one.await.expect("a sitter"));
    }
    sitters
}

/// That the file is whole, and so is the chain of the record.
pub(super) async fn is_sound(db: &Db) {
    if db.get_database_backend() == DatabaseBackend::Sqlite {
        let check = Statement::from_string(DatabaseBackend::Sqlite, "PRAGMA integrity_check");
        let said = db.query_one_raw(check).await.expect("an answer").expect("a row");
        assert_eq!(said.try_get_by_index::<String>(0).expect("a text"), "ok");
    }
    let chain = record::verify(db).await.expect("the record");
    assert!(matches!(chain, Verification::Whole { .. }), "{chain:?}");
}
