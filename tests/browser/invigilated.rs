//! A group sits under a trainer's eyes: the code is read out, one of them flags, is warned and hands in from the last look on a
//! phone; another's sitting is ended. What a device has not saved is named there.

use super::driver::{Browser, Scripts};
use super::new_hire::answer_on_page;
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::sittings::{read_everything, right};
use sootmark::domain::people::Role;
use sootmark::domain::scenario::question::{Kind, Question};
use sootmark::store::{AttemptId, PersonId, attempts, people};

const SCHEME: &str = "service-technician";

async fn person(app: &TestApp, email: &str) -> PersonId {
    people::find_by_email_norm(&app.deeds.db, email).await.expect("the store").expect("a person").id
}

/// Types the code and begins; gives the sitting.
async fn begin(browser: &Browser, code: &str) -> AttemptId {
    browser.go("/examine").await;
    browser.fill(&format!("code-{SCHEME}"), code).await;
    let button = browser.find(&format!("form[action=\"/examine/{SCHEME}\"] button")).await;
    browser.leave_by(button).await;
    browser.path().await.split('/').nth(3).and_then(|id| id.parse().ok()).expect("a sitting")
}

async fn questions(app: &TestApp, id: AttemptId) -> Vec<Question> {
    let asked = attempts::questions(&app.deeds.db, id).await.expect("the questions");
    asked.iter().map(|asked| serde_json::from_str(&asked.question.json).expect("a question")).collect()
}

/// A second one begins on the same phone, and is ended with a reason that they read.
async fn a_second_one_is_ended(desk: &Browser, phone: &Browser, watching: &str, code: &str) {
    phone.sign_in("second@example.org", PASSWORD).await;
    let second = begin(phone, code).await;
    desk.go(watching).await;
    let folded = desk.find_all("details.folded > summary").await;
    folded.last().expect("the second sitting").clone().click().await.expect("a click");
    desk.fill(&format!("text-{second}"), "Read from a second phone.").await;
    let end = desk.find(&format!("form[action$=\"/sittings/{second}\"] button[value=end]")).await;
    desk.leave_by(end).await;
    desk.sees("Ended: Read from a second phone.").await;
    desk.picture("invigilation").await;
    phone.go(&format!("/examine/sitting/{second}/1")).await;
    phone.sees("Your sitting was ended. The reason that was written down: Read from a second phone.").await;
    phone.sign_out().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_group_sits_under_a_trainers_eyes() {
    let app = TestApp::start_with_bank().await;
    let email = address_of(Role::Technician);
    app.person("Test second", "second@example.org", Role::Technician).await;
    for email in [email.as_str(), "second@example.org"] {
        read_everything(&app, person(&app, email).await, SCHEME).await;
    }
    let origin = format!("http://{}", app.address);
    let desk = Browser::open(&origin, Scripts::On, 1280, 1000).await;
    desk.sign_in(&address_of(Role::Trainer), PASSWORD).await;
    desk.go("/invigilate").await;
    desk.press("Open it").await;
    desk.sees("Read this code out.").await;
    let watching = desk.path().await;
    let code = desk.find(".code-word").await.text().await.expect("the code");
    desk.picture("invigilation-code").await;

    let phone = Browser::open(&origin, Scripts::On, 360, 800).await;
    phone.sign_in(&email, PASSWORD).await;
    phone.go("/examine").await;
    phone.fill(&format!("code-{SCHEME}"), "AAAA-AAAA").await;
    let button = phone.find(&format!("form[action=\"/examine/{SCHEME}\"] button")).await;
    phone.leave_by(button).await;
    phone.sees("this code does not open this examination at your branch").await;
    let first = begin(&phone, &code).await;
    let asked = questions(&app, first).await;

    // The first question is flagged and left open, the next ones that stand alone are answered.
    phone.press("Flag for later").await;
    phone.sees("Take the flag off").await;
    let alone = |question: &&Question| question.shown.case.is_none() && question.shown.kind != Kind::PutInOrder;
    let answered: Vec<usize> = (1..asked.len()).filter(|place| alone(&&asked[*place])).take(2).collect();
    for place in &answered {
        phone.go(&format!("/examine/sitting/{first}/{}", place + 1)).await;
        answer_on_page(&phone, &right(&asked[*place])).await;
        phone.press("Save and go on").await;
    }
    phone.go(&format!("/examine/sitting/{first}/review")).await;
    phone.sees("24 questions are open.").await;
    phone.sees("Flagged for later. A flag is no answer and counts for nothing. Question 1").await;
    phone.picture("sitting-review").await;
    assert!(!phone.find("[data-unsaved]").await.is_displayed().await.expect("a state"), "everything is saved");

    // Near the end the page says so, at once and by the server's clock.
    app.clock.advance(45 * 60 - 590);
    phone.go(&format!("/examine/sitting/{first}/1")).await;
    phone.sees("Less than 10 min left.").await;
    phone.picture("sitting-warning").await;
    desk.go(&watching).await;
    desk.sees("Answered").await;
    desk.sees("2 of 26").await;
    desk.sees("9 min").await;

    phone.sign_out().await;
    a_second_one_is_ended(&desk, &phone, &watching, &code).await;
    phone.sign_in(&email, PASSWORD).await;
    phone.go(&format!("/examine/sitting/{first}/review")).await;
    phone.press("Hand in").await;
    phone.sees("2 of 26 right").await;
    desk.close().await;
    phone.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_last_look_names_what_this_device_has_not_saved() {
    let app = TestApp::start_with_bank().await;
    let technician = person(&app, &address_of(Role::Technician)).await;
    let attempt = crate::support::sittings::begin(&app, technician, "first-day").await;
    let asked = questions(&app, attempt).await;
    let place = asked.iter().position(|question| question.shown.case.is_none()).expect("one that stands alone");
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 360, 800).await;
    browser.sign_in(&address_of(Role::Technician), PASSWORD).await;
    let path = format!("/examine/sitting/{attempt}/{}", place + 1);
    browser.go(&path).await;
    browser.outlives_its_session().await;
    answer_on_page(&browser, &right(&asked[place])).await;
    browser.leave_field().await;
    browser.sees("Not saved: you are no longer signed in.").await;
    browser.other_tab(&format!("/examine/sitting/{attempt}/review")).await;
    let named = format!("Not saved at this device. Go there and wait until it says Saved. Question {}", place + 1);
    browser.sees(&named).await;
    browser.picture("sitting-unsaved").await;
    browser.close().await;
    app.stop().await;
}
