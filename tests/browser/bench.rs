//! The bench in a real browser: with scripts it draws again while somebody types, without leaving the page; without
//! scripts the button does.

use super::driver::{Browser, Scripts};
use crate::support::app::{PASSWORD, TestApp, address_of};
use sootmark::domain::people::Role;

const AT_FIRST: &str = "/bench?machine=tarrel-60&load=20&speed=1300&hours=40&soot=60&ambient=20";

async fn on_the_bench(app: &TestApp, scripts: Scripts) -> Browser {
    let browser = Browser::open(&format!("http://{}", app.address), scripts, 1280, 1000).await;
    browser.sign_in(&address_of(Role::ServiceManager), PASSWORD).await;
    browser.go(AT_FIRST).await;
    browser.sees("Tarrel 60: from 60 % the soot load goes to").await;
    browser
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn it_is_drawn_again_while_somebody_types() {
    let app = TestApp::start_with_bank().await;
    let browser = on_the_bench(&app, Scripts::On).await;
    let page = browser.find("html").await;
    // Half typed: a soot load that is none is no reason to lose the drawing.
    browser.fill("soot", "x").await;
    browser.sees("Tarrel 60: from 60 % the soot load goes to").await;
    browser.fill("soot", "105").await;
    browser.sees("Tarrel 60: from 105 % the soot load goes to").await;
    browser.sees("Stop using this machine and call service").await;
    assert!(page.tag_name().await.is_ok(), "the page was left");
    browser.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn without_scripts_the_button_draws_it() {
    let app = TestApp::start_with_bank().await;
    let browser = on_the_bench(&app, Scripts::Off).await;
    browser.fill("soot", "105").await;
    browser.press("Run it").await;
    browser.sees("Tarrel 60: from 105 % the soot load goes to").await;
    browser.fill("hours", "many").await;
    browser.press("Run it").await;
    browser.sees("Type a number from 0.1 to 100 h.").await;
    browser.close().await;
    app.stop().await;
}
