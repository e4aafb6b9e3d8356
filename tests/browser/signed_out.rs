//! Somebody signs out or in in one tab: what stands in another is put away, comes back to nobody else, and comes back to its reader
//! as it was.

use super::driver::{Browser, Scripts};
use super::new_hire::answer_on_page;
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::sittings::{begin, questions_of, right};
use sootmark::domain::people::Role;
use sootmark::store::{attempts, people};

/// The tabs, in the order in which they were opened.
const WORK: usize = 0;
const OTHER: usize = 1;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_in_another_tab_is_put_away_until_the_same_person_is_back() {
    let app = TestApp::start_with_bank().await;
    app.person("Test other", "other@example.org", Role::Trainer).await;
    let email = address_of(Role::Trainer);
    let trainer = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("the trainer");
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 1280, 900).await;
    browser.sign_in(&email, PASSWORD).await;
    browser.go("/refreshers").await;
    browser.fill("email", &address_of(Role::Technician)).await;
    browser.fill("text", "Drove on with the lamp lit.").await;
    assert!(browser.everything().await.contains(&trainer.display_name));
    browser.other_tab("/account").await;
    browser.sign_out().await;
    browser.sees("You are signed out.").await;

    browser.tab(WORK).await;
    browser.sees("In another tab somebody signed out").await;
    browser.picture("put-away").await;
    let gone = async |browser: &Browser| {
        let everything = browser.everything().await;
        assert!(!everything.contains(&trainer.display_name) && !everything.contains("Write down"), "{everything}");
        assert!(browser.find_all("form").await.is_empty(), "nothing is left to be sent");
    };
    gone(&browser).await;

    // Somebody else may see pages of this kind, but not this one.
    browser.tab(OTHER).await;
    browser.sign_in("other@example.org", PASSWORD).await;
    browser.tab(WORK).await;
    // The page has asked who is there now, and was answered.
    browser
        .until("performance.getEntriesByType('resource').some((asked) => asked.name.endsWith('/account') && asked.responseStatus === 200)")
        .await;
    gone(&browser).await;

    // Who signs in over somebody else puts away what that one has open.
    browser.tab(OTHER).await;
    browser.go("/account").await;
    browser.other_tab("/").await;
    browser.sign_in(&email, PASSWORD).await;
    browser.tab(OTHER).await;
    browser.sees("or somebody else signed in").await;
    assert!(!browser.everything().await.contains("Test other"));

    browser.tab(WORK).await;
    browser.sees("Write down what happened").await;
    assert!(browser.everything().await.contains(&trainer.display_name));
    browser.press("Write it down").await;
    browser.sees("Written down.").await;
    browser.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_answer_that_was_not_saved_before_is_saved_when_its_page_is_back() {
    let app = TestApp::start_with_bank().await;
    let email = address_of(Role::Technician);
    let technician = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("a person");
    let attempt = begin(&app, technician.id, "first-day").await;
    let asked = questions_of(&app, attempt).await;
    let place = asked.iter().position(|question| question.shown.case.is_none()).expect("one that stands alone");
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 360, 800).await;
    browser.sign_in(&email, PASSWORD).await;
    browser.go(&format!("/examine/sitting/{attempt}/{}", place + 1)).await;
    // A form of a session that is over is not taken.
    browser
        .run("document.querySelectorAll('input[name=form_token]').forEach((token) => { token.value = 'gone'; })")
        .await;
    answer_on_page(&browser, &right(&asked[place])).await;
    browser.leave_field().await;
    browser.sees("Not saved: you are no longer signed in.").await;
    browser.other_tab("/account").await;
    browser.sign_out().await;
    browser.tab(WORK).await;
    browser.sees("This page is put away").await;

    browser.tab(OTHER).await;
    browser.sign_in(&email, PASSWORD).await;
    assert!(attempts::responses(&app.deeds.db, attempt).await.expect("the answers").is_empty());
    browser.tab(WORK).await;
    browser.sees("Saved ").await;
    assert_eq!(attempts::responses(&app.deeds.db, attempt).await.expect("the answers").len(), 1);
    browser.close().await;
    app.stop().await;
}
