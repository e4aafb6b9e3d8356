//! A trainer in a real browser: writes a scenario from nothing, is shown an ambiguity, mends it, another trainer
//! publishes it, a technician is asked it in practice. Their session ends while they type. With scripts, and the same
//! without.

use super::driver::{Browser, Scripts};
use super::new_hire::answer_on_page;
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::sittings::right;
use sootmark::domain::people::Role;
use sootmark::domain::scenario::Question;
use sootmark::store::{AttemptId, DraftId, attempts, template_drafts};

const KEY: &str = "telling/beside-the-weighbridge";
const MODULE: &str = "telling-the-operator";
const QUESTION: &str = "What do you tell the operator to do first?";

/// A scenario whose soot stands where the caller says.
fn text(soot: &str) -> String {
    format!(
        "title: Beside the weighbridge\ncompetence: telling\nlevel: 2\nkind: choose one\nmachines: all\n\
         show: soot, ground\nfigure: lamps\n\n[draw]\nload0 = {soot}\nfloor = one of straw, dry_grass\n\n[situation]\n\
         soot = load0\noutlet = 160 °C\nspeed = 900 rpm\nload = 5 %\nground = floor\nstanding = yes\n\
         park_brake = yes\nneutral = yes\nattachment_down = yes\n\n[story]\nThe {{machine.name}} stands on {{floor}} \
         beside the old weighbridge.\n\n[question]\n{QUESTION}\n\n[answer]\n\
         ask: route\nbelieve: anywhere_is_safe, parked_cures_all\n"
    )
}

/// Looks at what was typed: scripts do it by themselves, without them the button does.
async fn look(browser: &Browser, scripts: Scripts) {
    if scripts == Scripts::Off {
        browser.press("Check and show a question").await;
    }
}

/// Practises until the scenario comes; every one of the module comes once before any comes twice.
async fn is_asked(app: &TestApp, browser: &Browser) {
    browser.go("/practise").await;
    let ask = browser.find(&format!("form[action=\"/practise/{MODULE}\"] button")).await;
    browser.leave_by(ask).await;
    for _ in 0..app.deeds.bank.now().bank.templates().count() {
        let path = browser.path().await;
        let mut parts = path.rsplit('/');
        let position: i32 = parts.next().expect("a position").parse().expect("a number");
        let attempt: AttemptId = parts.next().expect("an attempt").parse().expect("a number");
        let kept = attempts::question(&app.deeds.db, attempt, position).await.expect("a question").question;
        if kept.template_key == KEY {
            browser.sees(QUESTION).await;
            browser.sees("beside the old weighbridge").await;
            return;
        }
        let question: Question = serde_json::from_str(&kept.json).expect("a question");
        answer_on_page(browser, &right(&question)).await;
        browser.press("Answer").await;
        browser.press("Next question").await;
    }
    panic!("{KEY} does not come");
}

async fn from_nothing_to_a_question(scripts: Scripts) {
    let app = TestApp::start_with_bank().await;
    app.person("Test second", "second@example.org", Role::Trainer).await;
    let browser = Browser::open(&format!("http://{}", app.address), scripts, 1280, 1000).await;

    browser.sign_in(&address_of(Role::Trainer), PASSWORD).await;
    browser.go("/templates").await;
    browser.press("Write a scenario").await;
    browser.fill("key", KEY).await;
    browser.press("Begin a draft").await;

    // The soot may sit on an edge, where two answers could be argued for.
    browser.fill("text", &text("one of machine.parked_from, machine.stop_level")).await;
    look(&browser, scripts).await;
    browser.sees("too near to an edge").await;
    browser.press("Send to review").await;
    browser.sees("to put right").await;
    browser.picture("writing").await;

    browser.fill("text", &text("inside parked keep 3 % step 1 %")).await;
    look(&browser, scripts).await;
    browser.sees("No problem was found").await;
    browser.sees(QUESTION).await;
    browser.picture("written").await;
    browser.press("Send to review").await;
    browser.sees("Waits for another trainer").await;
    browser.sign_out().await;

    browser.sign_in("second@example.org", PASSWORD).await;
    browser.go("/templates").await;
    browser.press(KEY).await;
    browser.picture("review").await;
    browser.fill("remark", "Tried on all three machines. Nothing to argue about.").await;
    browser.press("Approve and publish").await;
    browser.sees("version 1 is in use").await;
    browser.sign_out().await;

    browser.sign_in(&address_of(Role::Technician), PASSWORD).await;
    is_asked(&app, &browser).await;
    browser.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_trainer_writes_mends_and_has_reviewed_what_a_technician_is_then_asked() {
    from_nothing_to_a_question(Scripts::On).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_trainer_does_the_same_without_scripts() {
    from_nothing_to_a_question(Scripts::Off).await;
}

/// Longer than any session lasts, in seconds.
const A_MONTH: i64 = 31 * 24 * 3600;

async fn the_session_ends_while_typing(scripts: Scripts) {
    let app = TestApp::start_with_bank().await;
    let browser = Browser::open(&format!("http://{}", app.address), scripts, 1280, 1000).await;
    browser.sign_in(&address_of(Role::Trainer), PASSWORD).await;
    browser.go("/templates/new").await;
    browser.fill("key", KEY).await;
    browser.press("Begin a draft").await;
    let draft: DraftId = browser.path().await.rsplit('/').next().expect("a number").parse().expect("a number");
    app.clock.advance(A_MONTH);
    let typed = text("inside parked keep 3 % step 1 %");
    browser.fill("text", &typed).await;
    if scripts == Scripts::On {
        browser.sees("you are no longer signed in").await;
    }
    browser.press("Keep").await;
    browser.sees("You are signed out").await;
    browser.sees("title: Beside the weighbridge").await;
    browser.fill("email", &address_of(Role::Trainer)).await;
    browser.fill("password", PASSWORD).await;
    browser.press("Sign in").await;
    browser.sees("You are signed in again").await;
    browser.press("Send it again").await;
    browser.sees("Nothing is published yet").await;
    browser.sees("No problem was found").await;
    let kept = template_drafts::by_id(&app.deeds.db, draft).await.expect("the draft").source;
    assert_eq!(kept, typed);
    browser.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_a_trainer_typed_outlives_the_session() {
    the_session_ends_while_typing(Scripts::On).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_a_trainer_typed_outlives_the_session_without_scripts() {
    the_session_ends_while_typing(Scripts::Off).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_trainer_with_two_windows_sees_both_texts_and_chooses() {
    let app = TestApp::start_with_bank().await;
    let origin = format!("http://{}", app.address);
    let first = Browser::open(&origin, Scripts::On, 1280, 1000).await;
    first.sign_in(&address_of(Role::Trainer), PASSWORD).await;
    first.go("/templates/new").await;
    first.fill("key", KEY).await;
    first.press("Begin a draft").await;
    let address = first.path().await;
    let draft: DraftId = address.rsplit('/').next().expect("a number").parse().expect("a number");
    let second = Browser::open(&origin, Scripts::On, 360, 800).await;
    second.sign_in(&address_of(Role::Trainer), PASSWORD).await;
    second.go(&address).await;

    let left = text("inside parked keep 3 % step 1 %");
    first.fill("text", &left).await;
    first.sees("No problem was found").await;
    let right = left.replace("old weighbridge", "new weighbridge");
    second.fill("text", &right).await;
    second.sees("another window kept this draft").await;
    let kept = || async { template_drafts::by_id(&app.deeds.db, draft).await.expect("the draft").source };
    assert_eq!(kept().await, left, "nothing is put in the place of what the other window kept");

    second.press("Keep").await;
    second.sees("beside the old weighbridge").await;
    let mine = second.find("textarea").await.prop("value").await.expect("a value").expect("a text");
    assert_eq!(mine, right);
    second.picture("two-windows").await;
    second.press("Keep").await;
    second.sees("No problem was found").await;
    assert_eq!(kept().await, right, "whoever saw both texts chose");
    first.close().await;
    second.close().await;
    app.stop().await;
}
