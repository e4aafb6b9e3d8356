//! Pages on paper: the first sheet is not empty, and what is for the screen only is not on it.

use super::driver::{Browser, Scripts};
use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::observed::{assessor, open};
use crate::support::sittings::certify;
use crate::support::tools::tool_says;
use sootmark::domain::examination::observation::Task;
use sootmark::domain::people::Role;
use std::collections::BTreeSet;

/// What can be read on each sheet; `None` where poppler is missing.
fn words_of(pdf: &[u8]) -> Option<Vec<String>> {
    let file = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(file.path(), pdf).expect("written");
    let text = tool_says("pdftotext", &[file.path().to_str().expect("UTF-8"), "-"])?;
    // Each sheet ends with a form feed.
    let sheets = text.split_terminator('\u{c}');
    Some(sheets.map(|sheet| sheet.split_whitespace().collect::<Vec<_>>().join(" ")).collect())
}

/// Whatever the length of a page, it begins on the first sheet. Here one is drawn out, from less than a sheet to more.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_of_any_length_begins_on_the_first_sheet() {
    let app = TestApp::start().await;
    let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 1280, 900).await;
    browser.sign_in(&address_of(Role::Technician), PASSWORD).await;
    browser.go("/account/sessions").await;
    let mut sheets = BTreeSet::new();
    for height_px in (500..1100).step_by(20) {
        browser.run(&format!("document.querySelector('.card .part').style.minHeight = '{height_px}px'")).await;
        let Some(paper) = words_of(&browser.on_paper().await) else { return };
        assert!(paper[0].contains("Where you are signed in"), "{height_px} px: {paper:?}");
        sheets.insert(paper.len());
    }
    assert!(sheets.len() > 1, "it has grown past one sheet: {sheets:?}");
    browser.close().await;
    app.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_first_sheet_of_paper_begins_with_the_page() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person_towards("Ines Varga", "ines@example.org", "first-day").await;
    certify(&app, ines, "first-day").await;
    let technician = assessor(&app, Role::Technician).await.person;
    let seen = open(&app, assessor(&app, Role::Trainer).await, technician, Task::DailyCheck).await;
    let checklist = format!("/observe/{seen}");
    let history = format!("/qualified/people/{ines}/history");
    for (role, paths) in [
        (Role::Technician, vec!["/record", "/learn", "/machines/tarrel-60", "/account"]),
        (Role::Trainer, vec![&checklist, "/templates", "/invigilate"]),
        (
            Role::ServiceManager,
            vec![
                "/qualified",
                "/qualified/branches",
                &history,
                "/assignments",
                "/decisions",
                "/refreshers",
                "/letters",
            ],
        ),
    ] {
        let browser = Browser::open(&format!("http://{}", app.address), Scripts::On, 1280, 900).await;
        browser.sign_in(&address_of(role), PASSWORD).await;
        for path in paths {
            browser.go(path).await;
            let heading = browser.find("main h1").await.text().await.expect("its words");
            let Some(paper) = words_of(&browser.on_paper().await) else { return };
            assert!(paper[0].contains(&heading), "{path}: \"{heading}\" is not on the first sheet: {paper:?}");
            assert!(!paper.iter().any(|sheet| sheet.contains("Sign out")), "{path}: {paper:?}");
        }
        browser.close().await;
    }
    app.stop().await;
}
