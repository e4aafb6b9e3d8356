//! The program is killed while it brings the tables of an older release up to date: on SQLite at one call to the disk after
//! another, on PostgreSQL while a step waits for a table. It is started again, serves, and nothing that was there is gone.
//!
//! `SOOTMARK_KILLS`, 20 when it is not set, says how close together on SQLite: a fifth of it spread over all calls until it
//! serves, as far as the tables are not up to date. Skipped, and said so, where nothing may be traced or no PostgreSQL is named.

use super::injected::may_trace;
use super::oracle::is_sound;
use super::servers::postgres;
use crate::store::migrations::{known_steps, nothing_is_lost, released, steps};
use crate::support::client::Client;
use crate::support::program::{Program, Workshop};
use crate::support::rows::{Rows, rows, texts};
use sea_orm::{ConnectionTrait as _, Database, TransactionTrait as _};
use sootmark::store::{Db, connect};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::time::Duration;
use tempfile::TempDir;

/// What a transaction does to the disk.
const CALLS: &str = "pwrite64,fsync,fdatasync,ftruncate,unlink";

/// Releases that are tried, by how many steps they had taken: the first, the one whose rows the next step carries over, and the
/// last but one.
fn tried() -> [usize; 3] {
    [1, 3, known_steps().len() - 1]
}

/// Makes the tables of a release with rows in them; gives those that have to stay.
async fn rows_of_release(db: &Db, count: usize) -> Rows {
    released(db, count).await;
    let mut before = rows(db).await;
    // What a program that serves changes by itself: the record goes on, letters are sent, ended sessions are swept.
    for table in ["record_head", "outbox", "session"] {
        assert!(before.remove(table).is_some(), "{table} has rows");
    }
    before
}

/// A folder with the database of a release, rows in it, as an orderly end left it.
async fn old(count: usize) -> (TempDir, Rows) {
    let folder = tempfile::tempdir().expect("a folder");
    let db = connect(&url(folder.path())).await.expect("it opens");
    let before = rows_of_release(&db, count).await;
    db.close().await.expect("it closes");
    (folder, before)
}

fn url(folder: &Path) -> String {
    format!("sqlite:{}", folder.join("sootmark.sqlite").display())
}

/// A copy of it for one try, with its log if it has one.
fn copied(from: &Path) -> TempDir {
    let copy = tempfile::tempdir().expect("a folder");
    for name in ["sootmark.sqlite", "sootmark.sqlite-wal"].into_iter().filter(|name| from.join(name).exists()) {
        fs::copy(from.join(name), copy.path().join(name)).expect("a copy");
    }
    copy
}

/// How many steps were taken, seen in a copy: what the kill left stays as it is.
async fn steps_taken(folder: &Path) -> usize {
    let copy = copied(folder);
    let db = connect(&url(copy.path())).await.expect("it opens");
    let taken = steps(&db).await.len();
    db.close().await.expect("it closes");
    taken
}

/// What starts the program with a tracer beside it, which stands aside (-D), so that the child is the program.
fn traced(folder: &Path, to: &Path, more: &[String]) -> Result<Program, String> {
    let (to, filter) = (to.to_str().expect("a path"), format!("trace={CALLS}"));
    let mut before = vec!["strace", "-D", "-f", "-qq", "-o", to, "-e", &filter];
    before.extend(more.iter().map(String::as_str));
    Program::start(Workshop::without_people(folder, &url(folder)).command(&before, "127.0.0.1:0"))
}

/// How many of the calls the busiest thread makes until the program serves: the tracer counts them thread by thread.
fn calls_until_it_serves(folder: &Path) -> usize {
    let trace = tempfile::NamedTempFile::new().expect("a file");
    traced(folder, trace.path(), &[]).expect("it serves").kill();
    let mut of_threads: BTreeMap<String, usize> = BTreeMap::new();
    let text = fs::read_to_string(trace.path()).expect("what was traced");
    for thread in text.lines().filter(|line| line.contains('(')).filter_map(|line| line.split_whitespace().next()) {
        *of_threads.entry(thread.to_owned()).or_default() += 1;
    }
    of_threads.into_values().max().expect("something was written")
}

/// Starts the program again on what a kill left, and holds that it serves and that everything is there.
async fn holds(folder: &Path, url: &str, before: &Rows, of: &str) {
    let program = Workshop::without_people(folder, url).serve();
    assert_eq!(Client::new(program.address).get("/ready").await.status, 200, "{of}");
    program.kill();
    let db = connect(url).await.expect("it opens");
    assert_eq!(steps(&db).await, known_steps(), "{of}");
    is_sound(&db).await;
    nothing_is_lost(before, &rows(&db).await, of);
    db.close().await.expect("it closes");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_kill_in_the_middle_of_a_migration_costs_nothing() {
    let kills: usize = std::env::var("SOOTMARK_KILLS").map_or(20, |count| count.parse().expect("a number of kills"));
    if !may_trace() {
        return;
    }
    for count in tried() {
        let (old, before) = old(count).await;
        let calls = calls_until_it_serves(copied(old.path()).path());
        let mut left_at: BTreeMap<usize, usize> = BTreeMap::new();
        for nth in (1..=calls).step_by(calls.div_ceil(kills.div_ceil(5))) {
            let folder = copied(old.path());
            let inject = ["-e".to_owned(), format!("inject={CALLS}:signal=KILL:when={nth}")];
            let killed = traced(folder.path(), Path::new("/dev/null"), &inject).is_err();
            let taken = steps_taken(folder.path()).await;
            assert!(taken >= count, "no step is undone");
            *left_at.entry(taken).or_default() += 1;
            let of = format!("release {count}, killed at call {nth} of {calls}");
            holds(folder.path(), &url(folder.path()), &before, &of).await;
            if taken == known_steps().len() {
                break;
            }
            assert!(killed, "it did not serve before its tables were up to date");
        }
        eprintln!("from step {count}, {calls} calls until it serves: kills left it at step, how often: {left_at:?}");
        assert!(left_at.len() > 1, "before the last step and after it: {left_at:?}");
    }
}

/// A start while a table is locked: it comes back when the program waits for the table (true), or serves without it.
async fn waits_for(table: &str, program: &mut Program, said: &Path, db: &Db) -> bool {
    let waiting = format!("SELECT 1::text FROM pg_locks WHERE NOT granted AND relation = '{table}'::regclass");
    let mut looks = tokio::time::interval(Duration::from_millis(20));
    for _ in 0..3000 {
        looks.tick().await;
        if !texts(db, &waiting).await.expect("the locks").is_empty() {
            return true;
        }
        let said = fs::read_to_string(said).expect("what it says");
        if said.contains("serves http://") {
            return false;
        }
        assert!(program.ended().is_none(), "{said}");
    }
    panic!("{table} is locked, and the program neither waits for it nor serves")
}

/// PostgreSQL takes all steps in one transaction. What holds a step up is a lock of another connection; the program is killed
/// while it waits, and the server's own process, which knows nothing of that yet, goes on once the lock is gone.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_kill_in_the_middle_of_a_migration_of_postgresql_costs_nothing() {
    // The last two steps change no table that was there before.
    for count in [1, 3, known_steps().len() - 3] {
        let mut cut_off = Vec::new();
        for table in ["person", "attempt_question"] {
            let Some(database) = postgres().await else { return };
            let before = rows_of_release(&database.db, count).await;
            let folder = tempfile::tempdir().expect("a folder");
            let said = tempfile::NamedTempFile::new().expect("a file");
            let holder = Database::connect(&database.url).await.expect("a connection");
            let lock = holder.begin().await.expect("a transaction");
            lock.execute_unprepared(&format!("LOCK TABLE {table} IN ACCESS EXCLUSIVE MODE")).await.expect("locked");
            let workshop = Workshop::without_people(folder.path(), &database.url);
            let mut command = workshop.command(&[], "127.0.0.1:0");
            command.stderr(said.reopen().expect("the file"));
            let mut program = Program::start_silent(command, ([127, 0, 0, 1], 0).into());
            let waited = waits_for(table, &mut program, said.path(), &database.db).await;
            program.kill();
            if steps(&database.db).await.len() == count {
                assert!(waited, "{table}: it serves with today's tables only");
                cut_off.push(table);
            }
            lock.rollback().await.expect("unlocked");
            holder.close().await.expect("closed");
            let of = format!("release {count}, killed while {table} was locked");
            holds(folder.path(), &database.url, &before, &of).await;
            database.drop_schema().await;
        }
        eprintln!("from step {count}, cut off in the middle by a lock on {cut_off:?}");
        assert!(!cut_off.is_empty(), "no lock was in the way of any step");
    }
}
