//! Seven in the morning, on a phone: a service manager finds the one person who may be sent to a machine.

use super::driver::{Browser, Scripts};
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::sittings::{Sat, certify, sit};
use sootmark::domain::people::Role;

async fn finds_the_one_who_may_go(scripts: Scripts) {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    let tomas = app.person_towards("Tomas Reyk", "tomas@example.org", "first-day").await;
    app.person_towards("Abel Quint", "abel@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    sit(&app, tomas, "first-day", Sat::MissingFire).await;

    let browser = Browser::open(&format!("http://{}", app.address), scripts, 360, 740).await;
    browser.sign_in(&address_of(Role::ServiceManager), PASSWORD).await;
    browser.sees("Whom may you send to which machine today?").await;
    browser.press("Ask").await;
    let machine = app.deeds.bank.now().bank.machine("tarrel-60").expect("the machine").profile.name.clone();
    browser.choose("competence", "Fire and burns").await;
    browser.choose("machine", &machine).await;
    browser.choose("branch", "Coldbrook").await;
    browser.press("Ask").await;
    browser.sees("1 person from Coldbrook may be sent today to Fire and burns").await;
    let may = browser.find(".table-frame[aria-label=\"May be sent\"]").await.text().await.expect("text");
    assert!(may.contains("Ines Varga") && !may.contains("Tomas Reyk") && !may.contains("Abel Quint"), "{may}");
    let not = browser.find(".table-frame[aria-label=\"May not be sent\"]").await.text().await.expect("text");
    assert!(not.contains("Tomas Reyk") && not.contains("safety question missed on 24 Nov 2026"), "{not}");
    browser.picture("who-may-go").await;
    browser.press("Ines Varga").await;
    browser.sees("May be sent to work that needs").await;
    browser.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_service_manager_finds_the_one_qualified_person_on_a_phone() {
    finds_the_one_who_may_go(Scripts::On).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_same_without_scripts() {
    finds_the_one_who_may_go(Scripts::Off).await;
}

/// At a desk nothing of the list hides in a frame of its own: the page alone scrolls, and the names of the competences stay.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn at_a_desk_every_row_is_on_the_page_and_the_heading_stays() {
    let app = TestApp::start_with_bank().await;
    for number in 0..30 {
        app.person_towards(&format!("Person {number}"), &format!("person{number}@example.org"), "first-day").await;
    }
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 1280, 800).await;
    browser.sign_in(&address_of(Role::ServiceManager), PASSWORD).await;
    browser.go("/qualified").await;
    let script = "
        const told = (what) => { throw new Error(what); };
        const frame = document.querySelector('.matrix-frame');
        const rows = frame.querySelectorAll('tbody tr');
        if (rows.length < 30) told(`${rows.length} rows`);
        if (frame.clientHeight < frame.scrollHeight) told('the frame hides rows');
        if (document.documentElement.scrollWidth > innerWidth) told('wider than the window');
        const right = frame.getBoundingClientRect().right;
        for (const cell of frame.querySelectorAll('td, thead span')) {
          if (cell.getBoundingClientRect().right > right) told(`${cell.textContent} sticks out of the frame`);
        }
        rows[25].scrollIntoView({ block: 'center', behavior: 'instant' });
        const heading = frame.querySelector('thead').getBoundingClientRect();
        if (heading.top < -1 || heading.top > 1) told(`the heading is at ${heading.top} px`);";
    browser.run(script).await;
    browser.close().await;
    app.stop().await;
}
