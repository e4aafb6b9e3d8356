//! No words lie on other words, on a phone and at a desk.

use super::driver::{Browser, Scripts};
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::observed::{assessor, open};
use crate::support::sittings::{Sat, begin, certify, sit};
use sootmark::domain::examination::observation::Task;
use sootmark::domain::people::Role;

/// Every element that holds words of its own against every other: what only ears are for, drawings and the slanted names of
/// columns are left out, and so is what stands inside the other.
const NOTHING_OVERLAPS: &str = "
    const clipped = (one) => one && (getComputedStyle(one).clipPath === 'inset(50%)' || clipped(one.parentElement));
    const words = [...document.querySelectorAll('body *')].filter((one) =>
      !one.closest('svg, .skip, option, .matrix thead, details:not([open]) > :not(summary)') && !clipped(one)
      && [...one.childNodes].some((node) => node.nodeType === Node.TEXT_NODE && node.textContent.trim() !== ''));
    // The lines of the words themselves: a box may be larger than what stands in it.
    const lines = words.flatMap((one) => [...one.childNodes].filter((node) => node.nodeType === Node.TEXT_NODE).flatMap((node) => {
      const range = document.createRange();
      range.selectNodeContents(node);
      return [...range.getClientRects()].filter((box) => box.width > 1 && box.height > 1).map((box) => ({ one, box }));
    }));
    for (const [at, { one, box }] of lines.entries()) {
      for (const { one: other, box: there } of lines.slice(at + 1)) {
        const wide = Math.min(box.right, there.right) - Math.max(box.left, there.left);
        const high = Math.min(box.bottom, there.bottom) - Math.max(box.top, there.top);
        // Lines of one text touch by what their letters may need.
        if (wide > 2 && high > Math.min(box.height, there.height) / 4) {
          throw new Error(`${location.pathname}: «${one.textContent.trim()}» lies on «${other.textContent.trim()}»`);
        }
      }
    }";

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_words_lie_on_other_words() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    let number = certify(&app, ines, "first-day").await;
    let tomas = app.person_towards("Tomas Reyk", "tomas@example.org", "first-day").await;
    let missed = sit(&app, tomas, "first-day", Sat::MissingFire).await;
    let cato = app.person_towards("Cato Wynn", "cato@example.org", "first-day").await;
    let unlit = sit(&app, cato, "first-day", Sat::WithoutLamps).await;
    let technician = assessor(&app, Role::Technician).await.person;
    let attempt = begin(&app, technician, "first-day").await;
    let seen = open(&app, assessor(&app, Role::Trainer).await, technician, Task::DailyCheck).await;
    let of = |paths: &[&str]| paths.iter().map(|path| (*path).to_owned()).collect::<Vec<_>>();
    let sitting = |position: usize| format!("/examine/sitting/{attempt}/{position}");
    for (email, paths) in [
        (address_of(Role::Technician), [(1..=9).map(sitting).collect(), of(&["/", "/learn", "/account"])].concat()),
        ("cato@example.org".to_owned(), of(&[&format!("/examine/sitting/{unlit}/result")])),
        ("tomas@example.org".to_owned(), of(&[&format!("/examine/sitting/{missed}/result"), "/record", "/examine"])),
        (
            address_of(Role::Trainer),
            of(&[
                "/debriefs",
                &format!("/debriefs/{missed}"),
                &format!("/observe/{seen}"),
                "/templates",
                "/bench",
                "/machines/tarrel-60",
            ]),
        ),
        (
            address_of(Role::ServiceManager),
            [
                of(&[
                    "/qualified",
                    "/people",
                    "/assignments",
                    "/letters",
                    "/decisions",
                    "/qualified/branches",
                    "/refreshers",
                ]),
                of(&[
                    "/qualified/lapsing",
                    "/qualified/who?competence=fire&machine=tarrel-60",
                    "/calendar",
                    "/people/invite",
                ]),
                vec![format!("/decisions/certificates/{number}"), format!("/qualified/people/{ines}")],
                vec![
                    format!("/qualified/people/{ines}/history"),
                    format!("/people/{ines}"),
                    format!("/decisions/{missed}"),
                ],
            ]
            .concat(),
        ),
        (address_of(Role::Administrator), of(&["/branches", "/people/import"])),
    ] {
        for width in [360, 1280] {
            let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, width, 900).await;
            browser.sign_in(&email, PASSWORD).await;
            for path in &paths {
                browser.go(path).await;
                browser.run(NOTHING_OVERLAPS).await;
            }
            browser.close().await;
        }
    }
    app.stop().await;
}
