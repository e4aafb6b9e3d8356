//! One person's sitting, click by click, with what was acknowledged to them.

use crate::client::{Reply, Window};
use crate::served::SCHEME;
use sootmark::domain::scenario::grade::Answer;
use sootmark::store::AttemptId;
use std::fmt::Write as _;
use std::io;
use std::net::SocketAddr;
use std::time::{Duration, Instant};
use tokio::sync::{Barrier, Semaphore};

/// What all sitters share.
pub(crate) struct Desk {
    pub(crate) address: SocketAddr,
    /// Each request takes one and gives it back.
    pub(crate) turns: Semaphore,
    /// Nobody answers before everybody has begun.
    pub(crate) everybody_sits: Barrier,
    /// Nobody hands in before everybody has answered.
    pub(crate) everybody_answered: Barrier,
}

/// The kinds of request, as their waits are told.
pub(crate) const STEPS: [&str; 6] = ["begin", "question", "save", "review", "hand in", "result"];

/// What came of one sitting, as its person saw it.
#[derive(Default)]
pub(crate) struct Sat {
    /// The attempt, once its beginning was acknowledged.
    pub(crate) attempt: Option<AttemptId>,
    /// One entry for each question, in order.
    pub(crate) saved: Vec<Saved>,
    /// Whether handing in was acknowledged.
    pub(crate) handed_in: bool,
    /// How long each reply took, by the place of its step in [`STEPS`].
    pub(crate) waits: [Vec<Duration>; 6],
    /// What was not as it should be.
    pub(crate) errors: Vec<String>,
}

/// One question's answer.
pub(crate) struct Saved {
    /// The answer that was acknowledged last.
    pub(crate) answer: Option<Answer>,
    /// How many times one was.
    pub(crate) acknowledged: usize,
}

/// A click that did not lead where it should.
type Amiss = String;

/// Sits: begins, answers every question, some of them twice, looks them over, hands in, some by a double click.
pub(crate) async fn sit(desk: std::sync::Arc<Desk>, number: usize, window: Window) -> Sat {
    let mut sitter = Clicking { desk: &desk, number, window, sat: Sat::default() };
    let begun = sitter.begin().await;
    desk.everybody_sits.wait().await;
    let answered = match begun {
        Ok(first) => sitter.answer_all(first).await,
        Err(amiss) => Err(amiss),
    };
    desk.everybody_answered.wait().await;
    let ended = match answered {
        Ok(review) => sitter.hand_in(&review).await,
        Err(amiss) => Err(amiss),
    };
    if let Err(amiss) = ended {
        sitter.sat.errors.push(amiss);
    }
    sitter.sat
}

struct Clicking<'a> {
    desk: &'a Desk,
    number: usize,
    window: Window,
    sat: Sat,
}

impl Clicking<'_> {
    async fn begin(&mut self) -> Result<String, Amiss> {
        let begun = self.post(0, &format!("/examine/{SCHEME}"), "").await?;
        let first = wants(303, begun)?.location;
        let id = first.strip_prefix("/examine/sitting/").and_then(|rest| rest.split('/').next()?.parse().ok());
        self.sat.attempt = Some(id.ok_or_else(|| format!("begun, and sent to {first}"))?);
        Ok(first)
    }

    /// From the first question to the last; gives where the last one leads.
    async fn answer_all(&mut self, first: String) -> Result<String, Amiss> {
        let mut path = first;
        while !path.ends_with("/review") {
            let page = wants(200, self.get(1, &path).await?)?.body;
            self.sat.saved.push(Saved { answer: None, acknowledged: 0 });
            let place = self.sat.saved.len();
            // Every seventh answer is thought better of, where it can be.
            let fixed = page.contains("you cannot change it afterwards");
            let times = if !fixed && (self.number + place).is_multiple_of(7) { 2 } else { 1 };
            let mut next = String::new();
            for time in 0..times {
                let (fields, answer) = filled_in(&page, self.number + place + time)?;
                next = wants(303, self.post(2, &path, &fields).await?)?.location;
                let saved = &mut self.sat.saved[place - 1];
                saved.answer = Some(answer);
                saved.acknowledged += 1;
            }
            path = next;
        }
        Ok(path)
    }

    async fn hand_in(&mut self, review: &str) -> Result<(), Amiss> {
        let page = wants(200, self.get(3, review).await?)?.body;
        let key = page.split_once("name=\"submit_key\" value=\"").and_then(|(_, rest)| rest.split('"').next());
        let fields = format!("submit_key={}", key.ok_or("a review without a key")?);
        let path = review.replace("/review", "/submit");
        let clicks = if self.number.is_multiple_of(10) { 2 } else { 1 };
        let mut result = String::new();
        for _ in 0..clicks {
            result = wants(303, self.post(4, &path, &fields).await?)?.location;
        }
        self.sat.handed_in = true;
        wants(200, self.get(5, &result).await?).map(|_| ())
    }

    async fn get(&mut self, step: usize, path: &str) -> Result<Reply, Amiss> {
        let _turn = self.desk.turns.acquire().await.expect("open");
        let began = Instant::now();
        let reply = self.window.get(path).await;
        self.waited(step, began, path, reply)
    }

    async fn post(&mut self, step: usize, path: &str, fields: &str) -> Result<Reply, Amiss> {
        let _turn = self.desk.turns.acquire().await.expect("open");
        let began = Instant::now();
        let reply = self.window.post(path, fields).await;
        self.waited(step, began, path, reply)
    }

    fn waited(&mut self, step: usize, began: Instant, path: &str, reply: io::Result<Reply>) -> Result<Reply, Amiss> {
        self.sat.waits[step].push(began.elapsed());
        reply.map_err(|error| format!("{} {path}: {error}", STEPS[step]))
    }
}

fn wants(status: u16, reply: Reply) -> Result<Reply, Amiss> {
    if reply.status == status {
        Ok(reply)
    } else {
        Err(format!("{} instead of {status}: {}", reply.status, reply.body))
    }
}

/// An answer to the question of a page, as the form's fields and as it must then stand in the database. Another `turn`
/// gives another answer.
fn filled_in(page: &str, turn: usize) -> Result<(String, Answer), Amiss> {
    let count = |field: &str| page.matches(&format!("name=\"{field}")).count();
    let (choices, steps) = (count("choice\""), count("place_"));
    if choices > 0 {
        let chosen = turn % choices;
        return Ok((format!("choice={chosen}"), Answer::Options(vec![chosen])));
    }
    if steps > 0 {
        let order: Vec<usize> = (0..steps).map(|place| (place + turn) % steps).collect();
        let mut fields = String::new();
        for (place, step) in (1..).zip(&order) {
            let _ = write!(fields, "place_{step}={place}&");
        }
        return Ok((fields.trim_end_matches('&').to_owned(), Answer::Order(order)));
    }
    if count("number\"") == 1 {
        let number = format!("{}.5", turn % 40);
        return Ok((format!("number={number}"), Answer::Number(number)));
    }
    Err("a question without a field".to_owned())
}
