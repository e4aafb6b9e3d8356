//! `sootmark backup` and `sootmark restore`: what they say, and how they end.

use super::audit::run;
use crate::audit::Fates;
use crate::support::database::OneDatabase;
use sootmark::store::read::record_head::record_head;

#[tokio::test]
async fn a_backup_is_made_looked_into_and_put_back_in_words_that_two_people_can_compare() {
    let database = OneDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let head = record_head(&database.db).await.expect("the head");
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("monday.sqlite");
    let named = file.to_str().expect("UTF-8");
    // While the database is open and used.
    let (said, wrong, code) = run(&database.url, &["backup", named]);
    assert_eq!((wrong.as_str(), code), ("", 0), "{said}");
    let numbers = |said: &str| -> Vec<String> { said.lines().skip(1).take(3).map(str::to_owned).collect() };
    for words in [
        format!("Backed up into {named}."),
        format!("Entries of the record: {}. The newest is from ", head.entries),
        format!("Head: {}", head.hash),
        "of which 3 graded again.".to_owned(),
    ] {
        assert!(said.contains(&words), "{words} in {said}");
    }
    let (again, wrong, code) = run(&database.url, &["backup", named]);
    assert_eq!((again.as_str(), code), ("", 1));
    assert!(wrong.contains("something is there already, and nothing is ever overwritten"), "{wrong}");

    let place = format!("sqlite:{}", folder.path().join("back.sqlite").display());
    let (looked, wrong, code) = run(&place, &["restore", "--look", named]);
    assert!(looked.starts_with(&format!("{named} is whole.")) && code == 0, "{looked}{wrong}");
    assert_eq!(numbers(&looked), numbers(&said));
    let (back, wrong, code) = run(&place, &["restore", named]);
    assert!(back.contains("is put back.") && back.contains("Everybody is signed out.") && code == 0, "{back}{wrong}");
    assert_eq!(numbers(&back), numbers(&said));
    // The head that was printed with the backup is in the chain of what was put back.
    let (checked, _, code) = run(&place, &["audit", "verify", "--head", &head.hash]);
    assert!(checked.contains("Heads given with --head: 1, all in the chain.") && code == 0, "{checked}");
    let (_, wrong, code) = run(&place, &["restore", named]);
    assert!(wrong.contains("nothing is ever overwritten") && code == 1, "{wrong}");
    fates.app.stop().await;
    database.close().await;
}
