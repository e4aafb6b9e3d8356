//! Letters of twice the size on the smallest phone: nothing is wider than the screen.

use super::driver::Browser;
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::observed::{assessor, open};
use crate::support::sittings::{begin, certify};
use sootmark::domain::examination::observation::Task;
use sootmark::domain::people::Role;

/// Source: WCAG 2.2: a screen of 320 px without scrolling sideways (1.4.10), letters of 200 % (1.4.4).
const SMALLEST_PX: u32 = 320;
const USUAL_LETTERS_PX: u32 = 16;

/// Opens a page and looks whether it, or anything on it that does not scroll by itself, is wider than the screen.
async fn fits(browser: &Browser, path: &str, letters_px: u32) {
    browser.go(path).await;
    let script = "
        const told = (what) => { throw new Error(`${location.pathname}: ${what}`); };
        if (innerWidth !== WIDTH) told(`the screen has ${innerWidth} px`);
        const letters = parseFloat(getComputedStyle(document.documentElement).fontSize);
        if (letters < LETTERS) told(`letters of ${letters} px`);
        const wide = [...document.querySelectorAll('body *')].filter((one) => one.getBoundingClientRect().right > innerWidth + 1);
        if (document.documentElement.scrollWidth > innerWidth) told(`wider: ${wide.slice(0, 4).map((one) => one.outerHTML.slice(0, 60))}`);";
    browser.run(&script.replace("WIDTH", &SMALLEST_PX.to_string()).replace("LETTERS", &letters_px.to_string())).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_is_wider_than_the_smallest_phone_with_letters_of_twice_the_size() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga of the machinery yard", "ines@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    let technician = assessor(&app, Role::Technician).await.person;
    let attempt = begin(&app, technician, "first-day").await;
    let seen = open(&app, assessor(&app, Role::Trainer).await, technician, Task::DailyCheck).await;
    let sitting = format!("/examine/sitting/{attempt}");
    // One question with usual letters, every one with large ones: kinds differ.
    let own = |up_to: usize| (1..=up_to).map(|position| format!("{sitting}/{position}")).collect::<Vec<_>>();
    let of = |paths: &[&str]| paths.iter().map(|path| (*path).to_owned()).collect::<Vec<_>>();
    for (letters_px, up_to) in [(USUAL_LETTERS_PX, 1), (2 * USUAL_LETTERS_PX, 9)] {
        for (role, paths) in [
            (
                Role::Technician,
                [own(up_to), of(&["/", "/learn", "/record", "/account", &format!("{sitting}/review")])].concat(),
            ),
            (Role::Trainer, of(&["/observe", &format!("/observe/{seen}"), "/debriefs", "/invigilate", "/templates"])),
            (
                Role::ServiceManager,
                of(&["/qualified", "/people", "/assignments", "/letters", "/qualified/lapsing", "/keys"]),
            ),
        ] {
            let browser =
                Browser::with_letters(&format!("http://{}", app.address), (SMALLEST_PX, 740), letters_px).await;
            browser.sign_in(&address_of(role), PASSWORD).await;
            for path in paths {
                fits(&browser, &path, letters_px).await;
            }
            browser.close().await;
        }
    }
    app.stop().await;
}
