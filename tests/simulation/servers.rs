//! Two servers on one PostgreSQL: what one knows the other knows, and when one is killed in the middle of an examination, or
//! every connection of both is cut, nobody loses a saved answer.
//!
//! Skipped, and said so, when `SOOTMARK_TEST_POSTGRES` names no server.

use super::oracle::{SCHEME, Sitter, is_sound};
use crate::support::database::PostgresDatabase;
use crate::support::program::{Program, Workshop};
use sea_orm::ConnectionTrait as _;
use sootmark::store::{Db, attempts, branches};
use std::time::{Duration, Instant};

/// How often somebody tries again before a database counts as gone.
const TRIES: usize = 20;

pub(super) async fn postgres() -> Option<PostgresDatabase> {
    let database = PostgresDatabase::empty().await;
    if database.is_none() {
        eprintln!("skipped: SOOTMARK_TEST_POSTGRES names no PostgreSQL");
    }
    database
}

/// The address of a test's schema, by which its servers can be told from those of other tests.
fn named(database: &PostgresDatabase, name: &str) -> String {
    let separator = if database.url.contains('?') { '&' } else { '?' };
    format!("{}{separator}application_name={name}", database.url)
}

/// Cuts every connection that the servers of this name hold; gives how many.
async fn cut(db: &Db, name: &str) -> u64 {
    let sql = format!("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = '{name}'");
    db.execute_unprepared(&sql).await.expect("connections can be cut").rows_affected()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whoever_loses_their_server_goes_on_at_the_other() {
    let Some(database) = postgres().await else { return };
    let (workshop, _) = Workshop::on(&database.url, 2, SCHEME).await;
    let (one, other) = (workshop.serve(), workshop.serve());
    let there = other.address;
    let mut sitters = Vec::new();
    for number in 0..2 {
        sitters.push(Sitter::begin(one.address, number, &database.db).await);
    }
    // Answers come in at both servers, which share session and sitting.
    for sitter in &mut sitters {
        for turn in 0..6 {
            let at = if turn % 2 == 0 { one.address } else { there };
            sitter.client = sitter.client.at(at);
            assert!(sitter.answer().await.expect("it serves").is_none());
        }
        sitter.client = sitter.client.at(one.address);
    }
    let mut sitters = super::oracle::kill_after(one, sitters, 25).await;
    is_sound(&database.db).await;
    for sitter in &mut sitters {
        sitter.compare(&database.db).await;
        sitter.client = sitter.client.at(there);
        for _ in 0..4 {
            assert!(sitter.answer().await.expect("the other serves").is_none());
        }
        sitter.compare(&database.db).await;
        assert_eq!(sitter.hand_in().await.status, 303);
        let result = attempts::find_result(&database.db, sitter.attempt).await.expect("the store");
        assert!(result.is_some(), "graded by the other");
    }
    is_sound(&database.db).await;
    other.kill();
    database.drop_schema().await;
}

/// Saves one answer, trying again while the database is away; a server that stopped because a commit's fate is not known
/// is started again, as a service manager does. Gives how many tries it took.
pub(super) async fn answer_in_the_end(
    sitter: &mut Sitter,
    program: &mut Program,
    workshop: &Workshop,
    db: &Db,
) -> usize {
    for tried in 1..=TRIES {
        match sitter.answer().await {
            Ok(None) => return tried,
            Ok(Some(reply)) => {
                assert_eq!(reply.status, 503, "{}", reply.text());
                assert!(reply.text().contains("What you sent is kept on this page."), "{}", reply.text());
            }
            Err(_) => {
                assert!(!program.end().success(), "it stops only when it does not know");
                *program = workshop.serve_again(program.address);
            }
        }
        sitter.compare(db).await;
    }
    panic!("nothing could be saved in {TRIES} tries")
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn cut_connections_heal_and_cost_no_saved_answer() {
    let Some(database) = postgres().await else { return };
    let name = format!("cut_{}", std::process::id());
    let url = named(&database, &name);
    let (workshop, _) = Workshop::on(&url, 2, SCHEME).await;
    let mut program = workshop.serve();
    let (mut idle, mut busy) =
        (Sitter::begin(program.address, 0, &database.db).await, Sitter::begin(program.address, 1, &database.db).await);
    let (mut most, mut longest) = (0, Duration::ZERO);
    // Between two requests: every connection of the pool is dead when the next one comes.
    for _ in 0..5 {
        assert!(cut(&database.db, &name).await > 0, "there were connections to cut");
        let since = Instant::now();
        most = answer_in_the_end(&mut idle, &mut program, &workshop, &database.db).await.max(most);
        longest = since.elapsed().max(longest);
    }
    assert!(program.ended().is_none(), "nothing was under way, so nothing is unknown");
    // In the middle of requests.
    for _ in 0..10 {
        let both = async { tokio::join!(busy.answer(), cut(&database.db, &name)) };
        let (answered, _) = both.await;
        let served = answered.is_ok();
        busy.compare(&database.db).await;
        if !served {
            assert!(!program.end().success(), "it stops only when it does not know");
            program = workshop.serve_again(program.address);
        }
        let since = Instant::now();
        most = answer_in_the_end(&mut busy, &mut program, &workshop, &database.db).await.max(most);
        longest = since.elapsed().max(longest);
    }
    is_sound(&database.db).await;
    eprintln!("15 cuts; saved again after at most {most} tries, the longest took {longest:?}");
    assert!(most <= 3, "{most} tries");
    program.kill();
    database.drop_schema().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_servers_may_start_at_once_on_a_fresh_database() {
    let Some(database) = postgres().await else { return };
    let (folder, other) = (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("a folder"));
    let workshops = [folder.path(), other.path()].map(|folder| Workshop::without_people(folder, &database.url));
    let starting = workshops.map(|workshop| std::thread::spawn(move || workshop.serve()));
    let serving = starting.map(|thread| thread.join().expect("it serves"));
    assert!(branches::list(&database.db).await.expect("the tables are there").is_empty());
    for program in serving {
        let ready = crate::support::client::Client::new(program.address).get("/ready").await;
        assert_eq!(ready.status, 200);
        program.kill();
    }
    is_sound(&database.db).await;
    database.drop_schema().await;
}
