//! `sootmark audit verify` and `sootmark replay`: what they say and how they end, beside a server that has the database.

use crate::audit::Fates;
use crate::support::database::OneDatabase;
use sea_orm::ConnectionTrait as _;
use sootmark::domain::aftertreatment::MODEL_VERSION;
use sootmark::store::read::record_head::record_head;
use std::process::Command;

/// Stdout, stderr and the exit code, with a database.
pub(super) fn run(url: &str, arguments: &[&str]) -> (String, String, i32) {
    let output = Command::new(env!("CARGO_BIN_EXE_sootmark"))
        .args(arguments)
        .env_remove("SOOTMARK_SETTINGS")
        .env("SOOTMARK_DATABASE_URL", url)
        .output()
        .expect("the program runs");
    let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
    (text(output.stdout), text(output.stderr), output.status.code().expect("an exit code"))
}

#[tokio::test]
async fn a_whole_record_is_said_to_be_whole_and_its_head_can_be_kept() {
    let database = OneDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let head = record_head(&database.db).await.expect("the head");
    let (said, wrong, code) = run(&database.url, &["audit", "verify"]);
    assert_eq!((wrong.as_str(), code), ("", 0), "{said}");
    for line in [
        format!("The chain is whole. Entries: {}, each follows on the one before.\n", head.entries),
        format!("Head: {}\n", head.hash),
        "Examinations handed in and graded again: 3. Still open: 1.\n".to_owned(),
        "Everything that is on record fits.\n".to_owned(),
    ] {
        assert!(said.contains(&line), "{line}{said}");
    }
    // What it printed is a file of heads.
    let kept = database.folder.path().join("heads.txt");
    std::fs::write(&kept, &said).expect("kept");
    for given in [head.hash.as_str(), kept.to_str().expect("UTF-8")] {
        let (said, _, code) = run(&database.url, &["audit", "verify", "--head", given]);
        assert!(said.contains("Heads given with --head: 1, all in the chain.") && code == 0, "{said}");
    }
    let other = "ab".repeat(32);
    let (said, _, code) = run(&database.url, &["audit", "verify", "--head", &other]);
    assert!(said.starts_with("DOES NOT FIT: the chain holds in itself") && said.contains(&other), "{said}");
    assert_eq!(code, 1);
    fates.app.stop().await;
    database.close().await;
}

/// Other hashes stand beside the head in an export: none of them is taken for one, and none is guessed at.
#[tokio::test]
async fn the_head_of_an_export_is_its_record_head_and_of_two_hashes_none_is() {
    let database = OneDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let head = record_head(&database.db).await.expect("the head").hash;
    let file = |name: &str, text: &str| {
        let path = database.folder.path().join(name);
        std::fs::write(&path, text).expect("written");
        path.to_str().expect("UTF-8").to_owned()
    };
    let verify = |given: &str| run(&database.url, &["audit", "verify", "--head", given]);
    let [earlier, later] = ["0a".repeat(32), "fe".repeat(32)];
    let export = serde_json::json!({ "attempts": [{ "sha256": earlier }], "record_head": head, "written": later });
    let (said, wrong, code) = verify(&file("export.json", &export.to_string()));
    assert!(said.contains("Heads given with --head: 1, all in the chain.") && code == 0, "{said}{wrong}");

    let broken = serde_json::json!({ "record_head": "none", "sha256": head });
    let (_, wrong, code) = verify(&file("broken.json", &broken.to_string()));
    assert!(wrong.contains("broken.json: what stands there as record_head is no head.") && code == 2, "{wrong}");

    let two = file("two.txt", &format!("{later}\n{head}\n{earlier} {head}\n"));
    let mut named = [earlier.as_str(), head.as_str(), later.as_str()];
    named.sort_unstable();
    let (said, wrong, code) = verify(&two);
    let named = named.join(", ");
    let told = format!("--head {two}: more than one hash stands in the file, and any could be the head: {named}. ");
    assert!(wrong.contains(&told) && said.is_empty() && code == 2, "{wrong}");
    // The same one again and again, as in each row of a list, is one.
    let (said, wrong, code) = verify(&file("rows.csv", &format!("a,{head}\r\nb,{}\r\n", head.to_uppercase())));
    assert!(said.contains("Heads given with --head: 1, all in the chain.") && code == 0, "{said}{wrong}");
    fates.app.stop().await;
    database.close().await;
}

#[tokio::test]
async fn what_does_not_fit_is_named_and_so_is_what_cannot_be_checked() {
    let database = OneDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let failed = fates.failed;
    let forged = format!("UPDATE attempt_result SET passed = NOT passed, score = 100 WHERE attempt_id = {failed}");
    database.db.execute_unprepared(&forged).await.expect("forged");
    let (said, _, code) = run(&database.url, &["audit", "verify"]);
    assert_eq!(code, 1);
    let line =
        format!("DOES NOT FIT: attempt {failed}: the result is stored as passed, concluded again it is not passed\n");
    assert!(said.contains(&line) && said.contains("What to do: change nothing"), "{said}");

    for (url, arguments, code, says) in [
        (database.url.as_str(), ["audit", "verify", "--head", "no-such-file"], 2, "--head no-such-file: is no hash"),
        ("sqlite:///nowhere/at-all.db", ["audit", "verify", "--head", &"0".repeat(64)], 3, "cannot be opened"),
    ] {
        let (said, wrong, ended) = run(url, &arguments);
        assert!(wrong.contains(says) && said.is_empty() && ended == code, "{ended} {wrong}");
    }
    fates.app.stop().await;
    database.close().await;
}

#[tokio::test]
async fn an_attempt_is_made_again() {
    let database = OneDatabase::fresh().await;
    let fates = Fates::on(database.db.clone()).await;
    let replay = |attempt: &str| run(&database.url, &["replay", attempt]);
    let (passed, practice) = (fates.passed.to_string(), fates.practice.to_string());
    let (said, _, code) = replay(&passed);
    let whole = format!(
        "Attempt {passed}: examination, handed in, 9 questions.\nQuestions made again, byte by byte the same: 9.\nGrades \
         worked out again: 9.\nEverything is the same.\n"
    );
    assert_eq!((said, code), (whole, 0));
    let (said, _, code) = replay(&practice);
    assert!(said.starts_with(&format!("Attempt {practice}: practice, open, 2 questions.\n")) && code == 0, "{said}");
    let (_, wrong, code) = replay("900000");
    assert_eq!((wrong.as_str(), code), ("Sootmark: ATTEMPT 900000: there is no such attempt.\n", 2));
    assert_eq!(replay("nine").2, 2);
    let forged = "UPDATE grade SET correct = NOT correct, points = 0 WHERE position = 4";
    database.db.execute_unprepared(forged).await.expect("forged");
    let (said, _, code) = replay(&passed);
    let differs = "DIFFERS: question 4: stored as not right with 0 points, graded again it is right with 1 points\n";
    assert!(said.ends_with(differs) && code == 1, "{said}");
    database.db.execute_unprepared("UPDATE attempt_question SET model_version = 1").await.expect("an older model");
    let sql = format!(
        "UPDATE attempt_question SET question = replace(question, '\"model_version\":{MODEL_VERSION}', '\"model_version\":1')"
    );
    database.db.execute_unprepared(&sql).await.expect("an older model");
    let (said, _, code) = replay(&practice);
    assert!(said.contains("Questions not made again: 2. The filter model was version 1 then") && code == 3, "{said}");
    fates.app.stop().await;
    database.close().await;
}
