//! `sootmark backup` and `sootmark restore`: the drill from a workshop that is served to another that goes on from there,
//! and every way in which a file or a place may be wrong.

use super::audit::run;
use crate::audit::Fates;
use crate::support::database::{PostgresDatabase, SqliteDatabase};
use sea_orm::ConnectionTrait as _;
use sootmark::domain::people::Role;
use sootmark::store;
use sootmark::store::read::record_head::record_head;
use std::path::Path;

fn text(path: &Path) -> &str {
    path.to_str().expect("UTF-8")
}

/// What is in a folder, by name.
fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> =
        entries.map(|entry| entry.expect("an entry").file_name().into_string().expect("UTF-8")).collect();
    names.sort();
    names
}

#[tokio::test]
async fn what_is_restored_elsewhere_has_the_same_record_and_replays_the_same() {
    let database = SqliteDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let head = record_head(&database.db).await.expect("the head");
    let elsewhere = tempfile::tempdir().expect("a folder");
    let file = elsewhere.path().join("kept.backup");
    let (said, wrong, code) = run(&database.url, &["backup", text(&file)]);
    assert_eq!((wrong.as_str(), code), ("", 0), "{said}");
    let everyone = Role::ALL.len() + 4;
    let held = format!("People: {everyone}\nAttempts: 5\n");
    let of_record = format!("Entries of the record: {}\nHead: {}\nSchema: m0010_letters\n", head.entries, head.hash);
    for part in [held.as_str(), of_record.as_str(), "Verified: restored once"] {
        assert!(said.contains(part), "{part}{said}");
    }
    assert_eq!(names(elsewhere.path()), ["kept.backup"], "nothing else is left");
    let passed = fates.passed.to_string();
    let before = run(&database.url, &["replay", &passed]);
    fates.app.stop().await;
    database.db.close().await.expect("closed");

    let restored = format!("sqlite:{}", elsewhere.path().join("again.sqlite").display());
    let (said, wrong, code) = run(&restored, &["restore", text(&file)]);
    assert_eq!((wrong.as_str(), code), ("", 0), "{said}");
    assert!(said.contains(&held) && said.contains(&of_record), "{said}");
    assert_eq!(names(elsewhere.path()), ["again.sqlite", "kept.backup"]);
    let (said, wrong, code) = run(&restored, &["audit", "verify", "--head", &head.hash]);
    assert!(said.ends_with("Everything that is on record fits.\n"), "{said}{wrong}");
    assert_eq!(code, 0);
    assert_eq!(run(&restored, &["replay", &passed]), before, "the attempt is made again, the same");
    // The record goes on where it ended, and its rules hold again.
    let db = store::connect(&restored).await.expect("it opens");
    let refused = db.execute_unprepared("DELETE FROM record_entry").await.expect_err("append only");
    assert!(refused.to_string().contains("append only"), "{refused}");
    db.close().await.expect("closed");
}

#[tokio::test]
async fn a_backup_moves_between_the_databases_and_back_without_a_difference() {
    let Some(postgres) = PostgresDatabase::empty().await else { return };
    let database = SqliteDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let folder = tempfile::tempdir().expect("a folder");
    let (there, back) = (folder.path().join("there.backup"), folder.path().join("back.backup"));
    let (said, wrong, code) = run(&database.url, &["backup", text(&there)]);
    assert_eq!(code, 0, "{said}{wrong}");
    let (said, wrong, code) = run(&postgres.url, &["restore", text(&there)]);
    assert_eq!(code, 0, "{said}{wrong}");
    assert_eq!(run(&postgres.url, &["audit", "verify"]).2, 0);
    let (said, wrong, code) = run(&postgres.url, &["restore", text(&there)]);
    assert!(wrong.contains("there is something already") && code == 1, "{said}{wrong}");
    // The rules hold again, and new rows get new numbers.
    let refused = postgres.db.execute_unprepared("DELETE FROM record_entry").await.expect_err("append only");
    assert!(refused.to_string().contains("append only"), "{refused}");
    let highest = "SELECT max(id) FROM branch";
    let added = "INSERT INTO branch (name, time_zone) VALUES ('Upper Tarn', 'UTC') RETURNING id";
    let number = async |sql: &str| {
        let statement = sea_orm::Statement::from_string(sea_orm::DbBackend::Postgres, sql);
        let row = postgres.db.query_one_raw(statement).await.expect("an answer").expect("a row");
        row.try_get_by_index::<i64>(0).expect("a number")
    };
    assert_eq!(number(highest).await + 1, number(added).await);
    postgres.db.execute_unprepared("DELETE FROM branch WHERE name = 'Upper Tarn'").await.expect("taken away");

    let (said, wrong, code) = run(&postgres.url, &["backup", text(&back)]);
    assert_eq!(code, 0, "{said}{wrong}");
    let again = format!("sqlite:{}", folder.path().join("again.sqlite").display());
    let (said, wrong, code) = run(&again, &["restore", text(&back)]);
    assert_eq!(code, 0, "{said}{wrong}");
    assert_eq!(run(&again, &["audit", "verify"]), run(&database.url, &["audit", "verify"]));
    fates.app.stop().await;
    database.db.close().await.expect("closed");
    postgres.drop_schema().await;
}

#[tokio::test]
async fn a_damaged_or_foreign_file_is_refused_in_words_and_nothing_is_made() {
    let database = SqliteDatabase::fresh().await;
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("whole.backup");
    let (said, wrong, code) = run(&database.url, &["backup", text(&file)]);
    assert_eq!(code, 0, "{said}{wrong}");
    let whole = std::fs::read(&file).expect("the backup");
    let flipped = |at: usize| {
        let mut bytes = whole.clone();
        bytes[at] ^= 0x10;
        bytes
    };
    let next_form = [b"sootmark backup 2\n".as_slice(), &whole[18..]].concat();
    let middle = whole.len() / 2;
    let cases: Vec<(Vec<u8>, &str)> = vec![
        (flipped(3), "is no backup that this program made"),
        (flipped(20), "is damaged or cut short"),
        (flipped(middle), "is damaged or cut short"),
        (flipped(whole.len() - 1), "is damaged or cut short"),
        (whole[..middle].to_vec(), "is damaged or cut short"),
        (whole[..whole.len() - 1].to_vec(), "is damaged or cut short"),
        ([whole.as_slice(), b"\n"].concat(), "is damaged or cut short"),
        (whole[..18].to_vec(), "is damaged or cut short"),
        (next_form, "was made by a newer Sootmark"),
        (b"SQLite format 3\0".to_vec(), "is no backup that this program made"),
        (Vec::new(), "is no backup that this program made"),
    ];
    let place = tempfile::tempdir().expect("a folder");
    let url = format!("sqlite:{}", place.path().join("new.sqlite").display());
    for (bytes, says) in cases {
        let bad = folder.path().join("bad.backup");
        std::fs::write(&bad, &bytes).expect("written");
        let (said, wrong, code) = run(&url, &["restore", text(&bad)]);
        assert!(wrong.contains(says) && said.is_empty() && code == 1, "{} bytes: {said}{wrong}", bytes.len());
        assert_eq!(names(place.path()), Vec::<String>::new(), "{says}");
    }
    let (_, wrong, code) = run(&url, &["restore", text(&folder.path().join("missing"))]);
    assert!(wrong.contains("missing: No such file") && code == 1, "{wrong}");
    database.db.close().await.expect("closed");
}

/// Every bit of a small part of the file, so that no place is found where a change goes unseen.
#[tokio::test]
async fn no_flipped_bit_goes_unseen() {
    let database = SqliteDatabase::fresh().await;
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("whole.backup");
    sootmark::backup::make(&database.url, &file, crate::support::app::BEGINNING).await.expect("made");
    let whole = std::fs::read(&file).expect("the backup");
    let bad = folder.path().join("bad.backup");
    for at in 0..whole.len() {
        let mut bytes = whole.clone();
        bytes[at] ^= 1 << (at % 8);
        std::fs::write(&bad, &bytes).expect("written");
        assert!(sootmark::backup::Backup::open(&bad).is_err(), "byte {at}");
    }
    assert!(sootmark::backup::Backup::open(&file).is_ok());
    database.db.close().await.expect("closed");
}

#[tokio::test]
async fn nothing_is_overwritten_and_nothing_is_restored_over_anything() {
    let database = SqliteDatabase::fresh().await;
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("a.backup");
    std::fs::write(&file, "a letter to keep").expect("written");
    let (_, wrong, code) = run(&database.url, &["backup", text(&file)]);
    assert!(wrong.contains("a.backup is there already, and nothing is overwritten") && code == 1, "{wrong}");
    assert_eq!(std::fs::read_to_string(&file).expect("read"), "a letter to keep");
    let other = folder.path().join("b.backup");
    assert_eq!(run(&database.url, &["backup", text(&other)]).2, 0);
    let before = std::fs::read(database.folder.path().join("sootmark.db")).expect("the database");
    let (_, wrong, code) = run(&database.url, &["restore", text(&other)]);
    assert!(wrong.contains("sootmark.db: there is something already") && code == 1, "{wrong}");
    assert_eq!(std::fs::read(database.folder.path().join("sootmark.db")).expect("the database"), before);
    let nowhere = folder.path().join("no/such/folder/c.backup");
    let (_, wrong, code) = run(&database.url, &["backup", text(&nowhere)]);
    assert!(wrong.contains("c.backup.part: No such file") && code == 1, "{wrong}");
    database.db.close().await.expect("closed");
}

#[tokio::test]
async fn a_database_whose_record_was_forged_or_whose_rows_point_nowhere_gives_no_backup() {
    for (forge, says) in [
        (
            "DROP TRIGGER tr_record_entry_update; UPDATE record_entry SET detail = '{}'",
            "the chain of its record does not hold",
        ),
        ("PRAGMA foreign_keys = OFF; DELETE FROM branch", "rows of person point at something that is not there"),
    ] {
        let database = SqliteDatabase::fresh().await;
        let fates = Fates::on(database.db.clone()).await;
        fates.app.stop().await;
        database.db.execute_unprepared(forge).await.expect("forged");
        let folder = tempfile::tempdir().expect("a folder");
        let (said, wrong, code) = run(&database.url, &["backup", text(&folder.path().join("a.backup"))]);
        assert!(wrong.contains(says) && code == 1, "{said}{wrong}");
        assert_eq!(names(folder.path()), Vec::<String>::new());
        database.db.close().await.expect("closed");
    }
}
