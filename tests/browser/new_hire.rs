//! A new hire in a real browser: works through the modules of a scheme, practises, fails the examination on a mandatory
//! question, is debriefed, resits, passes; the service manager sees it. With scripts, and the same without.

use super::driver::{Browser, Scripts};
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::sittings::{right, wrong};
use sootmark::domain::people::Role;
use sootmark::domain::scenario::Question;
use sootmark::domain::scenario::grade::Answer;
use sootmark::store::people;
use sootmark::store::{AttemptId, attempts, write};

const SCHEME: &str = "first-day";

/// Gives the answer on the page that is open, with mouse and keyboard.
pub(super) async fn answer_on_page(browser: &Browser, answer: &Answer) {
    match answer {
        Answer::Options(chosen) => {
            for place in chosen {
                let option = browser.find(&format!("[name=choice][value=\"{place}\"]")).await;
                if !option.is_selected().await.expect("a state") {
                    option.click().await.expect("a click");
                }
            }
        }
        Answer::Number(typed) => browser.fill("number", typed).await,
        Answer::Order(order) => {
            for (place, option) in (1..).zip(order) {
                browser.place(*option, place, order.len()).await;
            }
        }
    }
}

/// Reads every lesson of the scheme's modules, one page after the other.
async fn read_all(app: &TestApp, browser: &Browser) {
    let read = app.deeds.bank.now();
    for module in &read.bank.scheme(SCHEME).expect("the scheme").scheme.modules {
        let lessons = &read.bank.module(module).expect("the module").lessons;
        browser.go(&format!("/learn/{module}/{}", lessons[0].id)).await;
        for lesson in lessons {
            browser.sees(&lesson.title).await;
            let button = browser.find("main form[action$=\"/read\"] button.main").await;
            browser.leave_by(button).await;
        }
    }
}

/// Sits the examination to its end; with a miss in the first question about fire, or without.
async fn sit(app: &TestApp, browser: &Browser, missing_fire: bool) -> AttemptId {
    browser.go("/examine").await;
    let begin = browser.find(&format!("form[action=\"/examine/{SCHEME}\"] button")).await;
    browser.leave_by(begin).await;
    let id: AttemptId = browser.path().await.split('/').nth(3).expect("an attempt").parse().expect("its number");
    let mut missed = !missing_fire;
    for asked in attempts::questions(&app.deeds.db, id).await.expect("the questions") {
        browser.sees(&format!("Question {}", asked.position)).await;
        let question: Question = serde_json::from_str(&asked.question.json).expect("a question");
        let miss = !missed && question.competence == "fire";
        missed |= miss;
        answer_on_page(browser, &if miss { wrong(&question) } else { right(&question) }).await;
        browser.press("Save and go on").await;
    }
    browser.sees("Every question is answered").await;
    browser.press("Hand in").await;
    id
}

async fn from_new_hire_to_qualified(scripts: Scripts) {
    let app = TestApp::start_with_bank().await;
    let email = address_of(Role::Technician);
    let person = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("the person").id;
    write::<_, sootmark::store::StoreError, _>(&app.deeds.db, async |tx| {
        people::set_scheme(tx, person, Some(SCHEME)).await
    })
    .await
    .expect("a scheme");
    // One browser for all: starting one takes as long as ten pages, and they share it as people share one at a workshop.
    let browser = Browser::open(&format!("http://{}", app.address), scripts, 1280, 1000).await;

    browser.sign_in(&email, PASSWORD).await;
    browser.sees("On the way to").await;
    browser.picture("technician").await;
    read_all(&app, &browser).await;

    browser.go("/practise").await;
    let ask = browser.find("form[action^=\"/practise/\"] button").await;
    browser.leave_by(ask).await;
    browser.sees("Practice").await;

    let first = sit(&app, &browser, true).await;
    browser.sees("Not qualified").await;
    browser.sees("not answered rightly").await;
    browser.go("/examine").await;
    browser.sees("Your trainer goes through it with you").await;
    assert_eq!(browser.find_all(&format!("form[action=\"/examine/{SCHEME}\"] button")).await.len(), 0, "no resit yet");
    browser.sign_out().await;

    browser.sign_in(&address_of(Role::Trainer), PASSWORD).await;
    browser.go(&format!("/debriefs/{first}")).await;
    browser.fill("note", "Went through the straw barn; the person named the safe place unasked.").await;
    browser.press("Write it down").await;
    browser.sees("Written down").await;
    browser.go("/templates").await;
    browser.picture("trainer").await;
    browser.sign_out().await;

    app.clock.advance(3601);
    browser.sign_in(&email, PASSWORD).await;
    let second = sit(&app, &browser, false).await;
    browser.sees("You passed every part").await;
    browser.sign_out().await;

    browser.sign_in(&address_of(Role::ServiceManager), PASSWORD).await;
    browser.go(&format!("/decisions/{second}")).await;
    browser.press("Grant").await;
    browser.sees("Written down").await;
    browser.go("/qualified?competence=fire&state=qualified").await;
    browser.sees("Test technician").await;
    browser.picture("service-manager").await;
    browser.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_new_hire_learns_fails_on_a_safety_question_resits_and_is_qualified() {
    from_new_hire_to_qualified(Scripts::On).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_same_without_scripts() {
    from_new_hire_to_qualified(Scripts::Off).await;
}
