//! An answer saved durably against a bare commit of SQLite: the same file system, the same journal, the same row.

use crate::served::{SCHEME, Workshop};
use crate::{quantile, row};
use rusqlite::{Connection, Statement};
use sootmark::actions::begin_examination::{Begun, begin_examination};
use sootmark::actions::load_bank::load_bank;
use sootmark::actions::save_answer::{AnswerSaved, save_answer};
use sootmark::actions::{BankInUse, Deeds, Hashing, Seeds, Throttle, read_question};
use sootmark::bank_files;
use sootmark::clock::Clock;
use sootmark::domain::scenario::Kind;
use sootmark::domain::scenario::grade::Answer;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::{AttemptId, Db, attempts};
use sootmark::web::view::Views;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

const SITTERS: usize = 20;

/// Prints the time by the clock of one saved answer, half of them and nearly all of them.
pub(crate) async fn measure() {
    let workshop = Workshop::with_people(SITTERS).await;
    let deeds = deeds(workshop.open().await).await;
    let bare = bare_database(workshop.path());
    let mut insert = bare.prepare(INSERT).expect("a statement");
    let (mut figure, mut least) = (Vec::new(), Vec::new());
    for sitter in &workshop.sitters {
        let begun = begin_examination(&deeds, sitter.person, TemperatureUnit::Celsius, SCHEME).await.expect("begins");
        let Begun::Sitting(attempt) = begun else { panic!("the examination begins: {begun:?}") };
        for asked in attempts::questions(&deeds.db, attempt).await.expect("the questions") {
            let shown = read_question(&asked).expect("a question").shown;
            let answer = some_answer(shown.kind, shown.options.len());
            let text = serde_json::to_string(&answer).expect("JSON");
            let began = Instant::now();
            bare_commit(&bare, &mut insert, attempt, asked.position, &text);
            least.push(microseconds(began));
            let began = Instant::now();
            let saved = save_answer(&deeds, sitter.person, attempt, asked.position, &answer).await;
            figure.push(microseconds(began));
            assert!(matches!(saved, Ok(AnswerSaved::Saved(_))), "{saved:?}");
        }
    }
    for (which, share, goal) in [("half", 0.5, "1.5 at most"), ("95 of 100", 0.95, "")] {
        let what = format!("answer saved durably, {which} within");
        row(&what, quantile(&mut figure, share), quantile(&mut least, share), goal);
    }
    deeds.db.close().await.expect("the database closes");
}

fn microseconds(since: Instant) -> f64 {
    since.elapsed().as_secs_f64() * 1e6
}

fn some_answer(kind: Kind, options: usize) -> Answer {
    match kind {
        Kind::ChooseOne | Kind::ChooseSeveral | Kind::LampPanel => Answer::Options(vec![0]),
        Kind::PutInOrder => Answer::Order((0..options).collect()),
        Kind::Number => Answer::Number("12.5".to_owned()),
    }
}

async fn deeds(db: Db) -> Deeds {
    let deeds = Deeds {
        codes_required: false,
        db,
        clock: Clock::system(),
        views: Views::load().expect("the templates"),
        hashing: Hashing::worthless_for_tests().expect("random bytes"),
        throttle: Throttle::default(),
        origin: "http://127.0.0.1".to_owned(),
        seeds: Seeds::system(),
        bank: BankInUse::default(),
        letters: Arc::default(),
    };
    load_bank(&deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
    deeds
}

/// The table of answers alone, with its two indexes, under the settings that the program insists on.
/// Source: SQLite documentation, "Write-Ahead Logging": with synchronous FULL each commit syncs the log.
fn bare_database(folder: &Path) -> Connection {
    let bare = Connection::open(folder.join("bare.sqlite")).expect("a database");
    bare.execute_batch(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;
         CREATE TABLE response (id INTEGER PRIMARY KEY AUTOINCREMENT, attempt_id INTEGER NOT NULL,
           position INTEGER NOT NULL, answer TEXT NOT NULL, saved_at INTEGER NOT NULL, revision INTEGER NOT NULL) STRICT;
         CREATE UNIQUE INDEX uq_response ON response (attempt_id, position);",
    )
    .expect("a table");
    bare
}

const INSERT: &str =
    "INSERT INTO response (attempt_id, position, answer, saved_at, revision) VALUES (?1, ?2, ?3, ?4, 1)";

fn bare_commit(bare: &Connection, insert: &mut Statement<'_>, attempt: AttemptId, position: i32, answer: &str) {
    let now = Clock::system().now();
    bare.execute_batch("BEGIN IMMEDIATE").expect("begins");
    insert.execute((attempt.0, position, answer, now.0)).expect("inserts");
    bare.execute_batch("COMMIT").expect("commits");
}
