//! The drill that shows a backup to be worth something: it is taken while several people save answers, put back elsewhere, and
//! served from there; whoever sat an examination goes on with every answer that was saved before the backup began.

use crate::support::app::PASSWORD;
use crate::support::client::Client;
use crate::support::program::Workshop;
use sootmark::actions::back_up::{back_up, restore};
use sootmark::actions::check_record::check_record;
use sootmark::clock::Clock;
use sootmark::store::{attempts, connect};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

const SCHEME: &str = "first-day";

async fn signed_in(address: std::net::SocketAddr, number: usize) -> Client {
    let mut client = Client::new(address);
    client.get("/sign-in").await;
    let email = format!("sitter{number}@example.org");
    assert_eq!(client.post("/sign-in", &[("email", &email), ("password", PASSWORD)]).await.status, 303);
    client
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_backup_taken_while_answers_are_saved_is_served_elsewhere_and_the_sitting_goes_on() {
    let (workshop, people) = Workshop::with_technicians(2, SCHEME).await;
    let program = workshop.serve();
    let mut sitting = Vec::new();
    for number in 0..2 {
        let mut client = signed_in(program.address, number).await;
        client.get("/examine").await;
        let begun = client.post(&format!("/examine/{SCHEME}"), &[]).await;
        sitting.push((client, begun.location().rsplit_once('/').expect("a sitting").0.to_owned()));
    }
    // One answers once before the backup; the other goes on answering while it is made.
    let (mut first, path) = sitting.remove(0);
    let mut place = 0;
    let page = loop {
        place += 1;
        let page = first.get(&format!("{path}/{place}")).await;
        if page.status != 200 || page.body.contains("name=\"choice\"") {
            break page;
        }
    };
    assert_eq!(page.status, 200, "one question at least is answered by a choice");
    assert_eq!(first.post(&format!("{path}/{place}"), &[("choice", "0")]).await.status, 303);
    let done = Arc::new(AtomicBool::new(false));
    let (mut second, second_path) = sitting.remove(0);
    let busy = tokio::spawn({
        let done = Arc::clone(&done);
        async move {
            let mut saved = 0;
            while !done.load(Ordering::SeqCst) {
                let reply = second.post(&format!("{second_path}/1/flag"), &[("flag", "yes")]).await;
                assert!(reply.status == 303 || reply.status == 200, "{}", reply.text());
                saved += 1;
            }
            saved
        }
    });
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("drill.sqlite");
    let contents = back_up(workshop.url(), &file).await.expect("a backup while it serves");
    done.store(true, Ordering::SeqCst);
    assert!(busy.await.expect("who was busy") > 0);
    program.kill();

    let elsewhere = Workshop::empty().await;
    restore(&file, elsewhere.url(), &Clock::system()).await.expect("put back");
    let program = elsewhere.serve();
    // The session ended with the restore; the password did not, and neither did the answer.
    assert_eq!(Client::new(program.address).get(&format!("{path}/1")).await.status, 303);
    let mut first = signed_in(program.address, 0).await;
    let review = first.get(&format!("{path}/review")).await;
    let key = review.between("name=\"submit_key\" value=\"", "\"").expect("a key").to_owned();
    assert_eq!(first.post(&format!("{path}/submit"), &[("submit_key", &key)]).await.status, 303);
    program.kill();
    let db = connect(elsewhere.url()).await.expect("it opens");
    let attempt = attempts::of_person(&db, people[0]).await.expect("attempts").pop().expect("one");
    assert_eq!(attempts::responses(&db, attempt.id).await.expect("answers").len(), 1);
    assert!(attempts::find_result(&db, attempt.id).await.expect("the store").is_some(), "graded after the restore");
    let found = check_record(&db, &[contents.head]).await.expect("the check");
    assert!(found.is_whole(), "{found:?}");
    db.close().await.expect("it closes");
    workshop.close().await;
    elsewhere.close().await;
}
