//! The first page says to each role what to do next, and leads there.

use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::client::Reply;
use crate::support::sittings::{Sat, begin, certify, decided, grant, manager, read_everything, sit};
use sootmark::actions::decide::Decided;
use sootmark::actions::hold_debrief::{DebriefHeld, hold_debrief};
use sootmark::actions::load_bank::load_bank;
use sootmark::bank_files;
use sootmark::domain::certification::decision::Verdict;
use sootmark::domain::people::Role;
use sootmark::store::{PersonId, people};

const SCHEME: &str = "first-day";
const BEGINNER: &str = "beginner@example.org";
const YEAR_S: i64 = 365 * 86_400;

/// Somebody who works towards the first scheme.
async fn beginner(app: &TestApp) -> PersonId {
    app.person_towards("Test beginner", BEGINNER, SCHEME).await
}

async fn home_of(app: &TestApp, email: &str) -> Reply {
    let page = app.signed_in_as(email).await.get("/").await;
    assert_eq!(page.status, 200);
    page
}

/// That the page says something, and that its one main link leads somewhere.
fn check(page: &Reply, says: &str, main: (&str, &str)) {
    assert!(page.text().contains(says), "{says} in {}", page.text());
    let link = format!("<a class=\"main\" href=\"{}\">{}</a>", main.0, main.1.replace('"', "&quot;"));
    assert!(page.body.contains(&link), "{link} in {}", page.body);
    assert_eq!(page.body.matches("class=\"main\"").count(), 1, "one main link");
}

#[tokio::test]
async fn a_new_hire_is_led_from_the_lessons_to_the_qualification() {
    let app = TestApp::start_with_bank().await;
    let person = beginner(&app).await;
    let unread = "On the way to \"First day on site\": 4 modules with lessons that you have not read.";
    check(&home_of(&app, BEGINNER).await, unread, ("/learn/lamps", "Go on with \"Lamps\""));

    read_everything(&app, person, SCHEME).await;
    let read = "You have read everything for \"First day on site\".";
    check(&home_of(&app, BEGINNER).await, read, ("/examine", "To the examination"));

    let open = begin(&app, person, SCHEME).await;
    let page = home_of(&app, BEGINNER).await;
    let running = "You are sitting an examination. Its time is running.";
    check(&page, running, (&format!("/examine/sitting/{open}/1"), "Go on with it"));
    assert!(!page.text().contains("You have read everything"), "one thing at a time: {}", page.text());
    app.clock.advance(901);
    check(
        &home_of(&app, BEGINNER).await,
        "The time for your examination is over.",
        ("/examine", "To the examinations"),
    );

    sootmark::actions::close_overdue::close_overdue(&app.deeds).await.expect("the store");
    let missed = "You missed a safety question. A trainer goes through it with you before you sit again.";
    let result = format!("/examine/sitting/{open}/result");
    check(&home_of(&app, BEGINNER).await, missed, (&result, "Look at what was missed"));

    let trainer = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Trainer)).await;
    let trainer = trainer.expect("the store").expect("the trainer").id;
    let held = hold_debrief(&app.deeds, trainer, open, "Went through all of it.").await.expect("the store");
    assert_eq!(held, DebriefHeld::Held);
    let wait = "You can sit \"First day on site\" again on 24 Nov 2026 at 09:15:01. Practise until then.";
    check(&home_of(&app, BEGINNER).await, wait, ("/practise", "Practise"));
    app.clock.advance(3600);
    let again = "You can sit \"First day on site\" again.";
    check(&home_of(&app, BEGINNER).await, again, ("/examine", "To the examination"));

    let attempt = sit(&app, person, SCHEME, Sat::Right).await;
    let waits = "You passed \"First day on site\". A service manager decides about your certificate.";
    check(&home_of(&app, BEGINNER).await, waits, ("/record", "See your record"));
    grant(&app, attempt).await;
    let passed = "You have passed \"First day on site\". Your record says until when it holds.";
    check(&home_of(&app, BEGINNER).await, passed, ("/record", "See your record"));
    app.stop().await;
}

#[tokio::test]
async fn who_has_passed_is_told_when_it_runs_out() {
    let app = TestApp::start_with_bank().await;
    let person = beginner(&app).await;
    certify(&app, person, SCHEME).await;
    // The scheme's 36 months less a month.
    app.clock.advance(3 * YEAR_S - 30 * 86_400);
    let soon = "Your qualification by \"First day on site\" runs out soon. Sit it again before it does.";
    check(&home_of(&app, BEGINNER).await, soon, ("/examine", "To the examination"));
    app.clock.advance(40 * 86_400);
    let over = "You passed \"First day on site\", but you are not qualified in all of it now. Sit it again.";
    check(&home_of(&app, BEGINNER).await, over, ("/examine", "To the examination"));
    app.stop().await;
}

#[tokio::test]
async fn who_passed_and_was_refused_is_led_to_the_reason() {
    let app = TestApp::start_with_bank().await;
    let person = beginner(&app).await;
    let attempt = sit(&app, person, SCHEME, Sat::Right).await;
    let refused = decided(&app, manager(&app).await, attempt, Verdict::Refused, "Papers on the desk.").await;
    assert_eq!(refused, Decided::Done(None));
    let says = "You passed \"First day on site\", but the certificate was refused. Your record says why.";
    check(&home_of(&app, BEGINNER).await, says, ("/record", "See your record"));
    app.stop().await;
}

#[tokio::test]
async fn who_has_no_aim_yet_is_led_to_the_modules_and_still_told_of_a_miss() {
    let app = TestApp::start_with_bank().await;
    let email = address_of(Role::Technician);
    check(&home_of(&app, &email).await, "Nobody has said yet what you work towards.", ("/learn", "To the modules"));
    let person = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("a person").id;
    let missed = sit(&app, person, SCHEME, Sat::MissingFire).await;
    let result = format!("/examine/sitting/{missed}/result");
    check(&home_of(&app, &email).await, "You missed a safety question.", (&result, "Look at what was missed"));
    app.stop().await;
}

#[tokio::test]
async fn a_trainer_sees_who_waits_and_what_is_wrong_with_the_bank() {
    let app = TestApp::start_with_bank().await;
    let email = address_of(Role::Trainer);
    let page = home_of(&app, &email).await;
    let count = app.deeds.bank.now().bank.templates().count();
    let whole = format!("{count} scenarios are in use, without a problem.");
    check(&page, &whole, ("/templates", "To the scenarios"));
    assert!(page.text().contains("Nobody waits for you"), "{}", page.text());

    let technician = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await;
    let technician = technician.expect("the store").expect("a person").id;
    sit(&app, technician, SCHEME, Sat::MissingFire).await;
    let one = "One person waits for a talk about a missed safety question.";
    check(&home_of(&app, &email).await, one, ("/debriefs", "Go through it"));
    let beginner = beginner(&app).await;
    sit(&app, beginner, SCHEME, Sat::MissingFire).await;
    let two = "2 people wait for a talk about a missed safety question.";
    check(&home_of(&app, &email).await, two, ("/debriefs", "Go through them"));

    let mut files = bank_files::embedded();
    let broken = files.iter_mut().find(|file| file.file.ends_with(".scenario")).expect("a template");
    broken.text.push_str("\nnonsense\n");
    load_bank(&app.deeds, files, Vec::new(), 0).await.expect("the bank");
    let page = home_of(&app, &email).await.text();
    assert!(page.contains(&format!("{count} scenarios are in use. 1 problem in the bank to look at.")), "{page}");
    app.stop().await;
}

#[tokio::test]
async fn a_trainer_who_sits_is_led_back_to_it_and_is_no_work_for_themselves() {
    let app = TestApp::start_with_bank().await;
    let email = address_of(Role::Trainer);
    let trainer = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("the trainer").id;
    let open = begin(&app, trainer, SCHEME).await;
    let running = "You are sitting an examination. Its time is running.";
    check(&home_of(&app, &email).await, running, (&format!("/examine/sitting/{open}/1"), "Go on with it"));
    app.clock.advance(901);
    sootmark::actions::close_overdue::close_overdue(&app.deeds).await.expect("the store");
    let page = home_of(&app, &email).await;
    let result = format!("/examine/sitting/{open}/result");
    check(&page, "You missed a safety question. A trainer goes through it", (&result, "Look at what was missed"));
    assert!(page.text().contains("Nobody waits for you"), "{}", page.text());
    app.stop().await;
}

#[tokio::test]
async fn a_service_manager_sees_counts() {
    let app = TestApp::start_with_bank().await;
    let email = address_of(Role::ServiceManager);
    let page = home_of(&app, &email).await;
    check(&page, "Whom may you send to which machine today?", ("/qualified/who", "Ask"));
    assert!(page.text().contains("Nothing lapses in the next 60 days."), "{}", page.text());
    assert!(!page.text().contains("suspended"), "{}", page.text());

    let person = beginner(&app).await;
    certify(&app, person, SCHEME).await;
    let second = app.person_towards("Test second", "second@example.org", SCHEME).await;
    let waiting = sit(&app, second, SCHEME, Sat::Right).await;
    let one = "One examination or appeal waits for your decision.";
    check(&home_of(&app, &email).await, one, ("/qualified/who", "Ask"));
    grant(&app, waiting).await;
    app.clock.advance(3 * YEAR_S - 30 * 86_400);
    sit(&app, second, SCHEME, Sat::MissingFire).await;
    let page = home_of(&app, &email).await;
    let suspended = "1 person is suspended in something.";
    check(&page, suspended, ("/qualified/who", "Ask"));
    assert!(page.text().contains("2 people with something that lapses in the next 60 days."), "{}", page.text());
    for link in ["/qualified?state=suspended", "/qualified?state=expiring"] {
        assert!(page.body.contains(&format!("href=\"{link}\"")), "{link}");
    }
    app.stop().await;
}

#[tokio::test]
async fn an_administrator_sees_who_is_not_in_yet_and_which_letters_wait() {
    let app = TestApp::start().await;
    let email = address_of(Role::Administrator);
    let page = home_of(&app, &email).await;
    check(&page, "Everyone who may sign in has chosen a password.", ("/people", "To the people"));
    assert!(page.text().contains("Every letter has been sent."), "{}", page.text());
    let mut administrator = app.signed_in(Role::Administrator).await;
    let roster =
        "name,email,branch,role\nAda,ada@example.org,Coldbrook,technician\nBen,ben@example.org,Coldbrook,trainer\n";
    assert_eq!(administrator.post("/people/import", &[("roster", roster)]).await.status, 303);
    let page = home_of(&app, &email).await;
    check(&page, "2 people have not chosen a password yet.", ("/people", "To the people"));
    assert!(page.text().contains("2 letters wait to be sent."), "{}", page.text());
    assert!(app.signs_in(&email, PASSWORD).await);
    app.stop().await;
}
