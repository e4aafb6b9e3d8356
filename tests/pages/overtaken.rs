//! A passed sitting that waits for its decision, or for an appeal, while the person misses a safety question in a later one: no
//! certificate comes of the older sitting, and what was missed stays open.

use crate::support::app::TestApp;
use crate::support::sittings::{Sat, certify, decided, manager, sit};
use sootmark::actions::appeal::{Heard, Lodged, decide_appeal, lodge_appeal};
use sootmark::actions::begin_examination::{Begun, NotYet, begin_examination};
use sootmark::actions::decide::{Decided, Decider};
use sootmark::domain::certification::decision::{Finding, Flaw, Verdict};
use sootmark::domain::people::Role;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::{AttemptId, PersonId, StoreError, branches, people, write};

const SCHEME: &str = "first-day";
const LATER: &str = "operator";

async fn begins(app: &TestApp, person: PersonId) -> Begun {
    begin_examination(&app.deeds, person, TemperatureUnit::Celsius, SCHEME).await.expect("the store")
}

/// A service manager of another branch, who hears appeals.
async fn hears(app: &TestApp) -> Decider {
    let person = app.person("Test elsewhere", "elsewhere@example.org", Role::ServiceManager).await;
    let moved = write::<_, StoreError, _>(&app.deeds.db, async |tx| {
        let branch = branches::insert(tx, "Saltmarsh", "UTC").await?;
        people::set_branch(tx, person, branch).await?;
        Ok(branch)
    });
    Decider { person, role: Role::ServiceManager, branch: moved.await.expect("a branch") }
}

/// Passes, is refused all the same, and appeals.
async fn appeals(app: &TestApp, person: PersonId) -> AttemptId {
    let attempt = sit(app, person, SCHEME, Sat::Right).await;
    let refused = decided(app, manager(app).await, attempt, Verdict::Refused, "Somebody else's papers.").await;
    assert_eq!(refused, Decided::Done(None));
    let lodged = lodge_appeal(&app.deeds, person, attempt, "They were job cards.").await.expect("the store");
    assert_eq!(lodged, Lodged::Done);
    app.clock.advance(3601);
    attempt
}

/// What the list of who is qualified says about somebody and fire.
async fn about_fire(app: &TestApp, state: &str) -> bool {
    let mut browser = app.signed_in(Role::ServiceManager).await;
    browser.get(&format!("/qualified?competence=fire&state={state}")).await.text().contains("Ines Varga")
}

#[tokio::test]
async fn a_safety_question_missed_since_forbids_a_certificate_on_the_sitting_before() {
    let app = TestApp::start_with_bank().await;
    let person = app.person("Ines Varga", "ines@example.org", Role::Technician).await;
    let before = sit(&app, person, SCHEME, Sat::Right).await;
    assert!(about_fire(&app, "waits").await);
    app.clock.advance(60);
    let missed = sit(&app, person, LATER, Sat::MissingFire).await;
    assert!(about_fire(&app, "missing").await, "nothing that could be granted waits any more");

    let mut browser = app.signed_in(Role::ServiceManager).await;
    let page = browser.get(&format!("/decisions/{before}")).await.text();
    assert!(page.contains("Fire and burns: a mandatory safety question was missed in a later examination."), "{page}");
    let granted = decided(&app, manager(&app).await, before, Verdict::Granted, "").await;
    assert_eq!(granted, Decided::Flawed(Flaw::NotProposed));
    assert!(!about_fire(&app, "qualified").await);
    assert_eq!(begins(&app, person).await, Begun::NotYet(NotYet::DebriefNeeded(missed)), "it has to be talked about");
    app.stop().await;
}

#[tokio::test]
async fn an_appeal_that_is_upheld_closes_no_safety_question_missed_since() {
    let app = TestApp::start_with_bank().await;
    let person = app.person("Ines Varga", "ines@example.org", Role::Technician).await;
    let before = appeals(&app, person).await;
    let missed = sit(&app, person, SCHEME, Sat::MissingFire).await;
    let by = hears(&app).await;
    let mut browser = app.signed_in_as("elsewhere@example.org").await;
    let page = browser.get(&format!("/decisions/{before}")).await.text();
    assert!(page.contains("Upheld, the examination does not count against the person. It still gives no certificate."));
    let heard = decide_appeal(&app.deeds, by, before, Finding::Upheld, "They were.").await.expect("the store");
    assert_eq!(heard, Heard::Done(None));
    assert!(!about_fire(&app, "qualified").await);
    assert_eq!(begins(&app, person).await, Begun::NotYet(NotYet::DebriefNeeded(missed)));
    app.stop().await;
}

#[tokio::test]
async fn an_appeal_that_is_upheld_takes_no_newer_certificate_away() {
    let app = TestApp::start_with_bank().await;
    let person = app.person("Ines Varga", "ines@example.org", Role::Technician).await;
    let before = appeals(&app, person).await;
    let number = certify(&app, person, SCHEME).await;
    let by = hears(&app).await;
    let heard = decide_appeal(&app.deeds, by, before, Finding::Upheld, "They were.").await.expect("the store");
    assert_eq!(heard, Heard::Done(None));
    let mut theirs = app.signed_in_as("ines@example.org").await;
    let certificate = theirs.get(&format!("/record/certificates/{number}")).await.text();
    assert!(certificate.contains("Valid."), "{certificate}");
    app.stop().await;
}
