//! Backups: taken from each database and put back into each, with the record, the attempts and their grades as they were;
//! damaged, cut short, older and foreign files; those that are kept by themselves.

use super::Fates;
use crate::support::database::{OneDatabase, PostgresDatabase, SqliteDatabase};
use sea_orm::{ConnectionTrait as _, DbBackend, Statement};
use sootmark::actions::PastBank;
use sootmark::actions::back_up::{BackupError, Contents, back_up, look_into_backup, restore};
use sootmark::actions::check_record::check_record;
use sootmark::actions::keep_backups::{Keeping, backups_in, keep_backups};
use sootmark::actions::replay_attempt::replay_attempt;
use sootmark::clock::Clock;
use sootmark::domain::units::Moment;
use sootmark::store::{ConnectError, Db, connect, connect_to_read_older, migrate_without};
use std::fs;
use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;

/// Every row of every table that people's rights rest on, as text.
async fn everything(db: &Db) -> Vec<String> {
    let mut all = Vec::new();
    for (table, order) in [
        ("person", "id"),
        ("attempt", "id"),
        ("attempt_question", "attempt_id, position"),
        ("response", "attempt_id, position"),
        ("grade", "attempt_id, position"),
        ("attempt_result", "attempt_id"),
        ("certificate", "id"),
        ("bank_document", "id"),
        ("outbox", "id"),
        ("setting", "key"),
        ("record_entry", "id"),
    ] {
        let sql = format!("SELECT * FROM {table} ORDER BY {order}");
        let rows = db.query_all_raw(Statement::from_string(db.get_database_backend(), sql)).await.expect("rows");
        for row in rows {
            // Columns in the order of their names: the two databases may give them in any.
            let mut columns = row.column_names();
            columns.sort();
            let value = |column: &String| {
                let name = column.as_str();
                let text = row.try_get::<Option<String>>("", name).map(|text| format!("{text:?}"));
                let whole = || row.try_get::<Option<i64>>("", name).map(|whole| format!("{whole:?}"));
                let small = || row.try_get::<Option<i32>>("", name).map(|whole| format!("{whole:?}"));
                let flag = || row.try_get::<Option<bool>>("", name).map(|flag| format!("{:?}", flag.map(i64::from)));
                let real = || row.try_get::<Option<f64>>("", name).map(|real| format!("{real:?}"));
                let bytes = || row.try_get::<Option<Vec<u8>>>("", name).map(|bytes| format!("{bytes:?}"));
                text.or_else(|_| whole())
                    .or_else(|_| small())
                    .or_else(|_| flag())
                    .or_else(|_| real())
                    .or_else(|_| bytes())
            };
            let values: Vec<String> = columns.iter().map(|column| value(column).expect("a value")).collect();
            all.push(format!("{table} {}", values.join(" ")));
        }
    }
    all
}

/// What stands at a restored place is what was backed up, and one entry more.
async fn is_as_it_was(url: &str, before: &[String], contents: &Contents, fates: &Fates) {
    let db = connect(url).await.expect("it opens");
    let after = everything(&db).await;
    assert_eq!(after.len(), before.len() + 1, "one entry more");
    for line in before {
        assert!(after.contains(line), "{line}");
    }
    let found = check_record(&db, std::slice::from_ref(&contents.head)).await.expect("the check");
    assert!(found.is_whole(), "{found:?}");
    let past = PastBank::read(&db).await.expect("the bank");
    for attempt in [fates.passed, fates.failed, fates.expired] {
        let again = replay_attempt(&db, &past, attempt).await.expect("the store");
        assert!(again.differences.is_empty(), "{:?}", again.differences);
    }
    let rows = Statement::from_string(db.get_database_backend(), "SELECT 1 FROM session");
    assert!(db.query_all_raw(rows).await.expect("rows").is_empty(), "everybody is signed out");
    // New rows get new numbers.
    let fresh = "INSERT INTO branch (name, time_zone) VALUES ('Newly made', 'UTC')";
    db.execute_unprepared(fresh).await.expect("a new number");
    let late = "UPDATE record_entry SET deed = 'x'";
    assert!(db.execute_unprepared(late).await.is_err(), "the record is only ever added to, here too");
    db.close().await.expect("it closes");
}

async fn drill(url: &str, db: Db) {
    let folder = tempfile::tempdir().expect("a folder");
    let fates = Fates::on(db.clone()).await;
    let file = folder.path().join("whole.sqlite");
    let before = everything(&db).await;
    let contents = back_up(url, &file).await.expect("a backup");
    assert_eq!(contents.graded_again, 3);
    assert_eq!(fs::metadata(&file).expect("it is there").permissions().mode() & 0o777, 0o600);
    assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 1, "nothing half-made is left");
    assert_eq!(look_into_backup(&file).await.expect("it is whole"), contents);
    assert!(matches!(back_up(url, &file).await, Err(BackupError::Taken(_))), "nothing is overwritten");

    let place = format!("sqlite:{}", folder.path().join("back.sqlite").display());
    let clock = Clock::manual(fates.app.clock.now());
    assert_eq!(restore(&file, &place, &clock).await.expect("put back"), contents);
    assert!(matches!(restore(&file, &place, &clock).await, Err(BackupError::Taken(_))));
    is_as_it_was(&place, &before, &contents, &fates).await;
    if let Some(empty) = PostgresDatabase::empty().await {
        assert_eq!(restore(&file, &empty.url, &clock).await.expect("put back"), contents);
        assert!(matches!(restore(&file, &empty.url, &clock).await, Err(BackupError::Taken(_))));
        is_as_it_was(&empty.url, &before, &contents, &fates).await;
        empty.drop_schema().await;
    }
    fates.app.stop().await;
}

#[tokio::test]
async fn a_backup_of_sqlite_goes_back_into_either_database() {
    let database = SqliteDatabase::fresh().await;
    drill(&database.url, database.db.clone()).await;
}

#[tokio::test]
async fn a_backup_of_postgresql_goes_back_into_either_database() {
    if let Some(database) = PostgresDatabase::fresh().await {
        drill(&database.url, database.db.clone()).await;
        database.drop_schema().await;
    }
}

/// A whole backup of a small organisation.
async fn small_backup(file: &Path) -> Contents {
    let database = OneDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let contents = back_up(&database.url, file).await.expect("a backup");
    fates.app.stop().await;
    database.close().await;
    contents
}

#[tokio::test]
async fn a_bit_flipped_anywhere_is_found() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("whole.sqlite");
    small_backup(&file).await;
    let whole = fs::read(&file).expect("bytes");
    let hurt = folder.path().join("hurt.sqlite");
    // Every place of the last line, and one in some hundred of those before it.
    let places = (0..whole.len()).step_by(whole.len() / 100).chain(whole.len() - 120..whole.len());
    for place in places {
        let mut bytes = whole.clone();
        bytes[place] ^= 1 << (place % 8);
        fs::write(&hurt, &bytes).expect("written");
        let found = look_into_backup(&hurt).await;
        assert!(matches!(found, Err(BackupError::NoBackup { .. })), "byte {place}: {found:?}");
    }
}

#[tokio::test]
async fn what_is_cut_short_or_something_else_is_no_backup_and_nothing_is_made() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("whole.sqlite");
    small_backup(&file).await;
    let whole = fs::read(&file).expect("bytes");
    let place = folder.path().join("back.sqlite");
    let url = format!("sqlite:{}", place.display());
    for (name, bytes) in [
        ("half", &whole[..whole.len() / 2]),
        ("almost", &whole[..whole.len() - 1]),
        ("longer", &[whole.as_slice(), b"\n"].concat()),
        ("text", b"a text and no database".as_slice()),
        ("none", b""),
    ] {
        let bad = folder.path().join(name);
        fs::write(&bad, bytes).expect("written");
        let error = restore(&bad, &url, &Clock::system()).await.expect_err(name);
        assert!(error.to_string().contains("no backup of Sootmark"), "{name}: {error}");
        assert!(!place.exists(), "{name}");
    }
    let missing = restore(&folder.path().join("missing"), &url, &Clock::system()).await.expect_err("no file");
    assert!(missing.to_string().contains("missing: No such file"), "{missing}");
    assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 6, "nothing half-made is left");
}

#[tokio::test]
async fn an_older_programs_backup_is_looked_into_and_brought_up_to_date_when_it_is_put_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let old = format!("sqlite:{}", folder.path().join("old.sqlite").display());
    let db = connect(&old).await.expect("it opens");
    // The tables as they were before the newest migration.
    migrate_without(&db, 1).await.expect("older tables");
    db.execute_unprepared("INSERT INTO branch (name, time_zone) VALUES ('Coldbrook', 'UTC')").await.expect("a row");
    db.close().await.expect("it closes");
    let file = folder.path().join("copy.sqlite");
    back_up(&old, &file).await.expect("a backup before the new program is started");
    let place = format!("sqlite:{}", folder.path().join("back.sqlite").display());
    restore(&file, &place, &Clock::system()).await.expect("put back");
    let db = sootmark::store::connect_to_read(&place).await.expect("up to date");
    let named = Statement::from_string(db.get_database_backend(), "SELECT name FROM branch");
    assert_eq!(db.query_all_raw(named).await.expect("rows").len(), 1);
}

#[tokio::test]
async fn a_database_whose_guards_are_gone_is_not_backed_up() {
    let database = OneDatabase::fresh().await;
    let (drop, name) = match database.db.get_database_backend() {
        DbBackend::Postgres => ("DROP TRIGGER tr_qualification_change ON qualification", "tr_qualification_change"),
        _ => ("DROP TRIGGER tr_qualification_update", "tr_qualification_update"),
    };
    database.db.execute_unprepared(drop).await.expect("dropped");
    let folder = tempfile::tempdir().expect("a folder");
    let error = back_up(&database.url, &folder.path().join("whole.sqlite")).await.expect_err("it is not whole");
    assert!(error.to_string().contains(name), "{error}");
    assert_eq!(fs::read_dir(folder.path()).expect("a folder").count(), 0, "nothing half-made is left");
    database.close().await;
}

#[tokio::test]
async fn nothing_is_put_back_behind_guards_that_are_gone() {
    let Some(to) = PostgresDatabase::fresh().await else { return };
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("whole.sqlite");
    small_backup(&file).await;
    to.db.execute_unprepared("DROP TRIGGER tr_decision_change ON decision").await.expect("dropped");
    let error = restore(&file, &to.url, &Clock::system()).await.expect_err("the place is not whole");
    assert!(matches!(&error, BackupError::NotWhole(what) if what[0].contains("tr_decision_change")), "{error}");
    let people = Statement::from_string(DbBackend::Postgres, "SELECT id FROM person");
    assert!(to.db.query_all_raw(people).await.expect("rows").is_empty(), "nothing was kept");
    to.drop_schema().await;
}

#[tokio::test]
async fn a_database_where_something_is_stays_as_it_is_whoever_made_it() {
    let Some(older) = PostgresDatabase::empty().await else { return };
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("whole.sqlite");
    small_backup(&file).await;
    migrate_without(&older.db, 1).await.expect("an older program's tables");
    let row = "INSERT INTO branch (name, time_zone) VALUES ('Coldbrook', 'UTC')";
    older.db.execute_unprepared(row).await.expect("a row");
    assert!(matches!(restore(&file, &older.url, &Clock::system()).await, Err(BackupError::Taken(_))));
    let (db, lacks) = connect_to_read_older(&older.url).await.expect("it opens");
    assert_eq!(lacks, 1, "its tables are the older program's as before");
    db.close().await.expect("it closes");
    older.drop_schema().await;

    let of_others = PostgresDatabase::empty().await.expect("another");
    of_others.db.execute_unprepared("CREATE TABLE theirs (n INT); INSERT INTO theirs VALUES (1)").await.expect("a row");
    assert!(matches!(restore(&file, &of_others.url, &Clock::system()).await, Err(BackupError::Taken(_))));
    let opened = connect_to_read_older(&of_others.url).await;
    assert!(matches!(opened, Err(ConnectError::NoTables)), "none of ours are made");
    of_others.drop_schema().await;
}

#[tokio::test]
async fn backups_by_themselves_come_when_they_are_due_and_only_the_newest_stay() {
    let database = OneDatabase::fresh().await;
    let folder = database.folder.path().join("backups");
    let keeping = Keeping { folder: folder.clone(), every_hours: 24, kept: 2 };
    let day = |days: i64, seconds: i64| Moment(1_790_000_000_000_000).plus_seconds(days * 86_400 + seconds);
    let keep = async |at| keep_backups(&database.url, &keeping, at).await.expect("the folder").is_some();
    assert!(keep(day(0, 0)).await);
    let stranger = folder.join("sootmark-of-mine.sqlite");
    fs::write(&stranger, "mine").expect("written");
    assert!(!keep(day(0, 86_399)).await, "not due");
    assert!(keep(day(1, 0)).await && keep(day(2, 5)).await);
    let kept: Vec<Moment> = backups_in(&folder).expect("the folder").into_iter().map(|(at, _)| at).collect();
    assert_eq!(kept, [day(1, 0), day(2, 5)]);
    assert!(stranger.exists(), "what has another name stays");
    // A record that does not hold is no backup, and takes no old one away.
    let forged = "UPDATE record_head SET entries = 7";
    database.db.execute_unprepared(forged).await.expect("forged");
    assert!(matches!(keep_backups(&database.url, &keeping, day(9, 0)).await, Err(BackupError::NotWhole(_))));
    assert_eq!(backups_in(&folder).expect("the folder").len(), 2);
    assert_eq!(fs::read_dir(&folder).expect("a folder").count(), 3, "nothing half-made is left");
    database.close().await;
}
