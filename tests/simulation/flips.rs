//! One bit flips in the database's file or in its write-ahead log, over and over, each time on a copy: it is found, or the
//! grades are those that they were, also when every attempt is made again. Never another grade.
//!
//! `SOOTMARK_FLIPS` says how often, 30 when it is not set. They fall in turn into the file
//! of a database that was closed in order, into the one that a crash leaves, and into the log beside that.

use super::oracle::below;
use crate::audit::Fates;
use crate::support::database::SqliteDatabase;
use rand::rngs::ChaCha8Rng;
use rand::{Rng as _, SeedableRng as _};
use sootmark::actions::PastBank;
use sootmark::actions::check_record::check_record;
use sootmark::actions::replay_attempt::{Replayed, replay_attempt};
use sootmark::store::{self, Db, StoreError, attempts};
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

/// A database as its files are, without the index that SQLite makes anew.
struct Files {
    main: Vec<u8>,
    log: Vec<u8>,
}

impl Files {
    fn of(folder: &Path) -> Self {
        let read = |name: &str| fs::read(folder.join(name)).unwrap_or_default();
        Self { main: read("sootmark.db"), log: read("sootmark.db-wal") }
    }

    fn put(&self, folder: &Path) {
        fs::write(folder.join("sootmark.db"), &self.main).expect("a copy");
        fs::write(folder.join("sootmark.db-wal"), &self.log).expect("a copy");
    }
}

/// What every examination and practice came to, in words.
async fn grades(db: &Db) -> Result<Vec<String>, StoreError> {
    let mut all = Vec::new();
    for attempt in attempts::all(db).await? {
        let (result, grades) = (attempts::find_result(db, attempt.id).await?, attempts::grades(db, attempt.id).await?);
        all.push(format!("{} {:?} {result:?} {grades:?}", attempt.id, attempt.state));
    }
    Ok(all)
}

/// Every attempt made again: questions from versions and seed, grades from the answers.
async fn made_again(db: &Db) -> Result<Vec<Replayed>, StoreError> {
    let past = PastBank::read(db).await?;
    let mut all = Vec::new();
    for attempt in attempts::all(db).await? {
        all.push(replay_attempt(db, &past, attempt.id).await?);
    }
    Ok(all)
}

/// What somebody finds who opens a copy and checks it.
enum Found {
    /// It says that something is wrong.
    Wrong(&'static str),
    /// The check says nothing; these are the grades, and what came of making every attempt again, unless that said that
    /// something is wrong.
    Grades(Vec<String>, Option<Vec<Replayed>>),
}

async fn look(folder: &Path, heads: &[String]) -> Found {
    let Ok(db) = store::connect(&format!("sqlite://{}/sootmark.db", folder.display())).await else {
        return Found::Wrong("not opened");
    };
    let found = match store::migrate(&db).await {
        Err(_) => Found::Wrong("not taken"),
        Ok(()) => match check_record(&db, heads).await {
            Err(_) => Found::Wrong("not checked"),
            Ok(checked) if !checked.is_whole() => Found::Wrong("found by the check"),
            Ok(_) => match grades(&db).await {
                Err(_) => Found::Wrong("not read"),
                Ok(grades) => Found::Grades(grades, made_again(&db).await.ok()),
            },
        },
    };
    // A file that is broken may not close in order either.
    drop(db.close().await);
    found
}

/// What making everything again says beyond the check. It may find that a scenario or a machine of the bank is damaged, from
/// which a question was made; an attempt of which it finds nothing has the same questions and grades as before.
fn told_by(before: &[Replayed], again: Option<Vec<Replayed>>, of: &str) -> &'static str {
    let Some(again) = again else { return "harmless for the grades, not made again" };
    assert_eq!(again.len(), before.len(), "{of}: an attempt more or less");
    for (before, again) in before.iter().zip(&again) {
        let other =
            |told: &&String| ["graded again it is", "concluded again it is"].iter().any(|how| told.contains(how));
        assert_eq!(again.differences.iter().find(other), None, "{of}: another grade, which the check did not find");
        if again.differences.is_empty() {
            assert_eq!(again, before, "{of}: it is made again as something else, and nobody says so");
        }
    }
    match again.iter().all(|one| one.differences.is_empty()) {
        true => "harmless",
        false => "harmless for the grades, found when made again",
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_flipped_bit_is_found_or_changes_no_grade() {
    let flips: usize = std::env::var("SOOTMARK_FLIPS").map_or(30, |count| count.parse().expect("a number of flips"));
    let sqlite = SqliteDatabase::fresh().await;
    let fates = Fates::on(sqlite.db.clone()).await;
    let original = grades(&sqlite.db).await.expect("the grades");
    let replayed = made_again(&sqlite.db).await.expect("the attempts");
    assert!(replayed.iter().all(|one| one.differences.is_empty()), "{replayed:?}");
    let checked = check_record(&sqlite.db, &[]).await.expect("the check");
    assert!(checked.is_whole() && checked.concluded == 3, "{checked:?}");
    let heads = [checked.head.hash.clone()];
    // As a crash leaves it: nothing is folded into the file first.
    let files = Files::of(sqlite.folder.path());
    assert!(!files.log.is_empty(), "some of it is in the log");
    fates.app.stop().await;
    // And as an orderly end leaves it: everything is in the file.
    sqlite.db.close().await.expect("it closes");
    let folded = Files::of(sqlite.folder.path());
    assert!(folded.log.is_empty(), "nothing is in the log");

    let mut draws = ChaCha8Rng::seed_from_u64(23);
    let mut seen: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for flip in 0..flips {
        let folder = tempfile::tempdir().expect("a folder");
        let from = if flip % 3 == 0 { &folded } else { &files };
        let mut copy = Files { main: from.main.clone(), log: from.log.clone() };
        let (name, bytes) = match flip % 3 {
            0 => ("folded file", &mut copy.main),
            1 => ("file beside a log", &mut copy.main),
            _ => ("log", &mut copy.log),
        };
        let (at, bit) = (below(&mut draws, bytes.len()), draws.next_u32() % 8);
        bytes[at] ^= 1 << bit;
        copy.put(folder.path());
        let what = match look(folder.path(), &heads).await {
            Found::Wrong(how) => how,
            Found::Grades(now, again) => {
                assert_eq!(now, original, "bit {bit} of byte {at} of the {name}: another grade, and nobody says so");
                told_by(&replayed, again, &format!("bit {bit} of byte {at} of the {name}"))
            }
        };
        *seen.entry((name, what)).or_default() += 1;
    }
    eprintln!("{flips} bits flipped: {seen:?}");
}
