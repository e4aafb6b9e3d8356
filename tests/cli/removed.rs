//! What `sootmark people anonymise` leaves in the bytes of an SQLite database, and what it says of what it cannot take away.

use crate::audit::Fates;
use crate::support::database::SqliteDatabase;
use sea_orm::ConnectionTrait as _;
use sootmark::store::people;
use std::path::Path;
use std::process::Command;

const OWEN: &str = "owen.lisle@fennmark.example";

/// Stdout, stderr and the exit code of taking Owen away, with a database and a folder of its own.
fn anonymise(url: &str, folder: &Path) -> (String, String, i32) {
    let output = Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(["people", "anonymise", OWEN, "--yes"])
        .env_remove("SOOTMARK_SETTINGS")
        .env("SOOTMARK_DATABASE_URL", url)
        .env("SOOTMARK_DATA_FOLDER", folder)
        .output()
        .expect("the program runs");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (text(output.stdout), text(output.stderr), output.status.code().expect("an exit code"))
}

/// Which of the texts are in the bytes of the database's file, or of its log.
fn left(folder: &Path, texts: &[String]) -> Vec<String> {
    let mut found = Vec::new();
    for name in ["sootmark.db", "sootmark.db-wal"] {
        let Ok(bytes) = std::fs::read(folder.join(name)) else { continue };
        let holds = |text: &&String| bytes.windows(text.len()).any(|part| part == text.as_bytes());
        found.extend(texts.iter().filter(holds).map(|text| format!("{name}: {text}")));
    }
    found
}

/// A database that is served, Owen's name, address and hash in it, and the folder that both are in.
async fn with_owen() -> (SqliteDatabase, Fates, [String; 5]) {
    let database = SqliteDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    fates.app.signed_in_as(OWEN).await;
    let owen = people::find_by_email_norm(&database.db, OWEN).await.expect("the store").expect("Owen").id;
    let hash = people::find_password_phc(&database.db, owen).await.expect("the store").expect("a hash");
    let end = hash.rsplit('$').next().expect("its end").to_owned();
    let texts = ["Owen Lisle", "owen lisle", OWEN, "owen.lisle"].map(str::to_owned);
    let [name, folded, address, part] = texts;
    (database, fates, [name, folded, address, part, end])
}

#[tokio::test]
async fn no_byte_of_a_name_an_address_or_a_hash_stays_in_the_file() {
    let (database, fates, texts) = with_owen().await;
    let folder = database.folder.path();
    assert!(left(folder, &texts).len() >= texts.len(), "there is something to take away");
    let (said, told, code) = anonymise(&database.url, folder);
    assert!(said.contains(" is called Person ") && code == 0, "{said}{told}");
    assert!(!told.contains("-wal") && !told.contains("Letters"), "{told}");
    assert_eq!(left(folder, &texts), Vec::<String>::new());
    fates.app.stop().await;
    database.db.close().await.expect("SQLite closes");
}

#[tokio::test]
async fn what_cannot_be_taken_away_is_named() {
    let (database, fates, _) = with_owen().await;
    let folder = database.folder.path();
    let letters = folder.join("mail");
    std::fs::create_dir(&letters).expect("a folder");
    // Somebody reads what was there before, and goes on reading.
    let reads = database.db.snapshot().await.expect("a snapshot");
    reads.execute_unprepared("SELECT count(*) FROM person").await.expect("read");
    let (said, told, code) = anonymise(&database.url, folder);
    assert!(said.contains(" is called Person ") && code == 0, "{said}{told}");
    assert!(told.contains("write-ahead log (the file beside it that ends in -wal) still holds"), "{told}");
    let letters = letters.display();
    let says = format!("Letters were also written as files in {letters}; delete those to {OWEN} yourself.");
    assert!(told.contains(&says), "{told}");
    reads.rollback().await.expect("read to the end");
    assert!(database.db.empty_log().await.expect("the store"), "nobody reads any more");
    fates.app.stop().await;
    database.db.close().await.expect("SQLite closes");
}
