//! Letters that are due by the record and the clock, and the one click that ends them.

use super::{by_smtp, mail_server, sender};
use crate::support::app::{TestApp, address_of};
use crate::support::sittings::{Sat, certify, decided, manager, sit};
use sootmark::actions::write_due_letters::write_due_letters;
use sootmark::domain::certification::decision::Verdict;
use sootmark::domain::letters::Kind;
use sootmark::domain::people::Role;
use sootmark::domain::units::Moment;
use sootmark::mail::sender::Round;
use sootmark::store::outbox::NewMail;
use sootmark::store::{certificates, people};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

const DAY: i64 = 86_400 * 1_000_000;

/// A program with a technician's certificate, and when that ends.
async fn certified() -> (TestApp, Moment) {
    let app = TestApp::start_with_bank().await;
    let person = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await.expect("the store");
    let number = certify(&app, person.expect("a technician").id, "first-day").await;
    let until = certificates::by_number(&app.deeds.db, number).await.expect("the certificate").entry.valid_until;
    (app, until)
}

pub(super) async fn of_kind(app: &TestApp, kind: Kind) -> Vec<NewMail> {
    app.letters().await.into_iter().filter(|letter| letter.kind == kind).collect()
}

/// How many letters one look writes.
pub(super) async fn written_now(app: &TestApp) -> usize {
    write_due_letters(&app.deeds).await.expect("a look")
}

fn path_of(letter: &NewMail) -> String {
    let link = letter.unsubscribe_link.as_deref().expect("a link");
    link[link.find("/letters/").expect("a path")..].to_owned()
}

#[tokio::test]
async fn a_holder_is_told_on_three_days_and_once_each() {
    let (app, until) = certified().await;
    for (before, written) in
        [(60 * DAY + 1, 0), (60 * DAY, 1), (31 * DAY, 0), (30 * DAY, 1), (7 * DAY, 1), (1, 0), (0, 0)]
    {
        app.clock.set(Moment(until.0 - before));
        // Two servers look at once, and one looks again after it was started anew.
        let (one, other) = tokio::join!(write_due_letters(&app.deeds), write_due_letters(&app.deeds));
        assert_eq!(one.expect("a look") + other.expect("a look"), written, "{before} before the end");
        assert_eq!(write_due_letters(&app.deeds).await.expect("a look"), 0);
    }
    let told = of_kind(&app, Kind::Expiry).await;
    assert_eq!(told.iter().map(|letter| letter.threshold).collect::<Vec<_>>(), [60, 30, 7]);
    assert!(told[0].text_body.contains("60 days are left"), "{}", told[0].text_body);
    assert!(told.iter().all(|letter| !letter.subject.contains("first") && !letter.subject.contains("2026")));
    app.stop().await;
}

#[tokio::test]
async fn one_click_ends_a_kind_without_a_sign_in() {
    let (app, until) = certified().await;
    app.clock.set(Moment(until.0 - 60 * DAY));
    assert_eq!(write_due_letters(&app.deeds).await.expect("a look"), 1);
    let letter = of_kind(&app, Kind::Expiry).await.remove(0);
    let path = path_of(&letter);
    // Looking at the link ends nothing, and a guessed one looks the same.
    let guessed = format!("/letters/stop/{}", "0".repeat(64));
    let (seen, other) = (app.browser().get(&path).await, app.browser().get(&guessed).await);
    assert_eq!(seen.status, 200);
    assert_eq!(seen.body.replace(&path, ""), other.body.replace(&guessed, ""));
    // Source: RFC 8058 section 3.2: a POST with this body, without cookies; a mail provider's server names no origin.
    let headers = [("content-type", "application/x-www-form-urlencoded")];
    let body = "List-Unsubscribe=One-Click";
    let done = app.browser().send("POST", &path, &headers, body).await;
    let other = app.browser().send("POST", &guessed, &headers, body).await;
    assert_eq!((done.status, other.status), (200, 200));
    assert_eq!(done.body, other.body);
    app.browser().send("POST", &path, &headers, body).await;
    assert_eq!(
        app.deeds_about(&address_of(Role::Technician)).await.iter().filter(|deed| *deed == "letters_chosen").count(),
        1
    );
    app.clock.set(Moment(until.0 - 30 * DAY));
    assert_eq!(write_due_letters(&app.deeds).await.expect("a look"), 0, "ended");

    // On the account page it can be had again.
    let mut browser = app.signed_in(Role::Technician).await;
    assert_eq!(browser.post("/account/letters", &[("expiry", "yes")]).await.location(), "/account?saved=letters");
    assert_eq!(write_due_letters(&app.deeds).await.expect("a look"), 1);
    app.stop().await;
}

#[tokio::test]
async fn a_letter_that_may_be_refused_says_so_to_mail_programs() {
    let (app, until) = certified().await;
    let mut deeds = app.deeds.clone();
    deeds.origin = "https://training.example.org".to_owned();
    app.clock.set(Moment(until.0 - 7 * DAY));
    assert_eq!(write_due_letters(&deeds).await.expect("a look"), 1);
    let expected = of_kind(&app, Kind::Expiry).await.remove(0).unsubscribe_link.expect("a link");
    let (port, mut letters) = mail_server(Arc::new(AtomicBool::new(false))).await;
    let round = sender(&app, by_smtp(port)).send_due().await.expect("a round");
    // The result, the decision, the end.
    assert_eq!(round, Round { sent: 3, put_off: 0 });
    let (mut with, mut without) = (0, 0);
    for _ in 0..3 {
        let letter = letters.recv().await.expect("a letter");
        if letter.contains("Subject: A certificate of yours ends soon") {
            // Source: RFC 8058 section 3.1: one https address between angle brackets, and exactly this pair. RFC 5322 section
            // 2.2.3: a folded line is unfolded before it is read.
            let unfolded = letter.replace("\r\n ", " ");
            let line = |name: &str| unfolded.lines().filter_map(|line| line.strip_prefix(name)).collect::<Vec<_>>();
            assert_eq!(line("List-Unsubscribe: "), [format!("<{expected}>")]);
            assert_eq!(line("List-Unsubscribe-Post: "), ["List-Unsubscribe=One-Click"]);
            with += 1;
        } else {
            assert!(!letter.contains("List-Unsubscribe"), "{letter}");
            without += 1;
        }
    }
    assert_eq!((with, without), (1, 2));
    app.stop().await;
}

#[tokio::test]
async fn what_was_decided_is_told_once_and_without_the_reason() {
    let (app, _) = certified().await;
    let person = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await.expect("the store");
    let again = sit(&app, person.expect("a technician").id, "first-day", Sat::WithoutLamps).await;
    let (by, reason) = (manager(&app).await, "The lamps were not known.");
    decided(&app, by, again, Verdict::Refused, reason).await;
    decided(&app, by, again, Verdict::Refused, reason).await;
    let told = of_kind(&app, Kind::Decision).await;
    assert_eq!(told.len(), 2);
    assert!(told[0].text_body.contains("You hold certificate 2026-00001-"), "{}", told[0].text_body);
    assert!(told[1].text_body.contains("was not granted"), "{}", told[1].text_body);
    assert!(!told[1].text_body.contains("lamps") && !told[1].html_body.contains("lamps"));
    app.stop().await;
}
