//! A letter that the mail server refuses, two senders at once, and a sender that dies: nothing is lost, nothing is sent twice
//! that need not be, and the page of letters tells what became of each.

use super::due::written_now;
use super::{by_smtp, invite, mail_server, mail_server_that, sender};
use crate::support::app::{TestApp, address_of};
use crate::support::database::for_each_database;
use crate::support::sittings::certify;
use sootmark::actions::load_bank::load_bank;
use sootmark::bank_files;
use sootmark::config::Settings;
use sootmark::domain::people::Role;
use sootmark::domain::units::Moment;
use sootmark::mail::sender::Round;
use sootmark::store::outbox::REFUSED_WAIT_SECONDS;
use sootmark::store::{Db, StoreError, certificates, outbox, people, write};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// How long a claim of the sender holds; longer than the one that is claimed here.
const LEASE_S: i64 = 900;

#[tokio::test]
async fn a_refused_address_is_tried_a_few_times_and_then_left_for_all_to_see() {
    let app = TestApp::start().await;
    invite(&app, "Ada Größe", "ada@example.org").await;
    // Source: RFC 5321 section 4.2.3: 550, the mailbox is not there.
    let nobody = |line: &str| line.starts_with("RCPT").then_some("550 5.1.1 nobody of that name\r\n");
    let (port, _taken) = mail_server_that(nobody).await;
    let there = sender(&app, by_smtp(port));
    let mut page = String::new();
    for (tries, wait) in (1..).zip(REFUSED_WAIT_SECONDS) {
        assert_eq!(there.send_due().await.expect("a round"), Round { sent: 0, put_off: 1 }, "try {tries}");
        page = app.signed_in(Role::Administrator).await.get("/letters").await.body;
        assert!(page.contains("waiting"), "{page}");
        app.clock.advance(wait - 1);
        assert_eq!(there.send_due().await.expect("a round"), Round::default(), "not before {wait} s");
        app.clock.advance(1);
    }
    assert!(page.contains("tried 4 times, next on "), "{page}");
    assert_eq!(there.send_due().await.expect("a round"), Round { sent: 0, put_off: 1 }, "the last try");
    app.clock.advance(365 * 86_400);
    assert_eq!(there.send_due().await.expect("a round"), Round::default(), "it is left");
    let page = app.signed_in(Role::Administrator).await.get("/letters?state=failed").await.body;
    assert!(page.contains("tried 5 times, given up on ") && page.contains("nobody of that name"), "{page}");
    assert!(page.contains("Ada Größe") && page.contains("ada@example.org"), "{page}");
    assert!(!page.contains("/invitation/"), "the link is a secret");
    app.stop().await;
}

#[tokio::test]
async fn a_server_that_does_not_know_us_loses_no_letter() {
    let app = TestApp::start().await;
    invite(&app, "Ada Größe", "ada@example.org").await;
    // Source: RFC 4954 section 6: 530, authentication is required: nothing is wrong with the letter.
    let strict = |line: &str| line.starts_with("MAIL").then_some("530 5.7.0 sign in first\r\n");
    let (port, _taken) = mail_server_that(strict).await;
    let there = sender(&app, by_smtp(port));
    for _ in 0..REFUSED_WAIT_SECONDS.len() + 5 {
        assert_eq!(there.send_due().await.expect("a round"), Round { sent: 0, put_off: 1 });
        app.clock.advance(86_400);
    }
    // It is set right.
    let (port, mut letters) = mail_server(Arc::new(AtomicBool::new(false))).await;
    assert_eq!(sender(&app, by_smtp(port)).send_due().await.expect("a round"), Round { sent: 1, put_off: 0 });
    assert!(letters.recv().await.expect("a letter").contains("ada@example.org"));
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn two_servers_one_of_which_dies_write_and_send_each_letter_once() {
    for_each_database(async |db: Db| {
        let app = TestApp::start_on(db.clone(), Settings { secure_cookies: false, ..Settings::default() }).await;
        load_bank(&app.deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
        let person = people::find_by_email_norm(&db, &address_of(Role::Technician)).await.expect("the store");
        let number = certify(&app, person.expect("a technician").id, "first-day").await;
        let until = certificates::by_number(&db, number).await.expect("the certificate").entry.valid_until;
        app.clock.set(Moment(until.0 - 30 * 86_400_000_000));

        // Four look at the record at once; who comes after a restart finds it written.
        let looks = (0..4).map(|_| {
            let deeds = app.deeds.clone();
            tokio::spawn(async move { sootmark::actions::write_due_letters::write_due_letters(&deeds).await })
        });
        let mut written = 0;
        for look in looks.collect::<Vec<_>>() {
            written += look.await.expect("no panic").expect("a look");
        }
        assert_eq!((written, written_now(&app).await), (1, 0));

        // The result, the decision, the end. One server claims one of them and dies before it sends.
        let now = app.clock.now();
        let died = write::<_, StoreError, _>(&db, async |tx| outbox::claim_due(tx, now, LEASE_S, 1).await).await;
        assert_eq!(died.expect("the outbox").len(), 1);
        let (port, mut letters) = mail_server(Arc::new(AtomicBool::new(false))).await;
        let (one, other) = (sender(&app, by_smtp(port)), sender(&app, by_smtp(port)));
        let sent = async || {
            let (one, other) = tokio::join!(one.send_due(), other.send_due());
            one.expect("a round").sent + other.expect("a round").sent
        };
        assert_eq!(sent().await, 2, "the third is held by the one that died");
        app.clock.advance(LEASE_S);
        assert_eq!(sent().await, 1, "and is sent when its lease is over");
        app.clock.advance(30 * 86_400 - LEASE_S - 1);
        assert_eq!(sent().await, 0);
        letters.close();
        let mut names = Vec::new();
        while let Some(letter) = letters.recv().await {
            let name = letter.lines().find(|line| line.starts_with("Message-ID: ")).expect("a Message-ID").to_owned();
            names.push(name);
        }
        names.sort();
        assert_eq!(names.len(), 3);
        names.dedup();
        assert_eq!(names.len(), 3, "three different letters");
        app.stop().await;
    })
    .await;
}

#[tokio::test]
async fn a_letter_whose_sender_died_right_after_sending_is_known_as_the_same() {
    let app = TestApp::start().await;
    invite(&app, "Ada Größe", "ada@example.org").await;
    let (port, mut letters) = mail_server(Arc::new(AtomicBool::new(false))).await;
    let now = app.clock.now();
    let claimed = write::<_, StoreError, _>(&app.deeds.db, async |tx| outbox::claim_due(tx, now, LEASE_S, 1).await);
    let claimed = claimed.await.expect("the outbox").remove(0);
    // The mail server has it, and then nobody is there to write that down.
    by_smtp(port).deliver(claimed.id.0, &claimed.mail).await.expect("taken");
    app.clock.advance(LEASE_S);
    assert_eq!(sender(&app, by_smtp(port)).send_due().await.expect("a round"), Round { sent: 1, put_off: 0 });
    let name = |letter: &str| letter.lines().find(|line| line.starts_with("Message-ID: ")).map(str::to_owned);
    let (first, second) = (letters.recv().await.expect("a letter"), letters.recv().await.expect("another"));
    // Source: RFC 5322 section 3.6.4: a Message-ID names exactly one message; mailboxes drop the second by it.
    assert!(name(&first).is_some());
    assert_eq!(name(&first), name(&second));
    app.stop().await;
}
