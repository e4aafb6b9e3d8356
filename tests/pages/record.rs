//! One's own record and sittings: what is shown, to whom, and what never is.

use crate::support::app::{TestApp, address_of};
use crate::support::sittings::{Sat, begin, certify, sit};
use sootmark::actions::hold_debrief::{DebriefHeld, hold_debrief};
use sootmark::domain::people::Role;
use sootmark::domain::scenario::question::{Key, Question};
use sootmark::store::{PersonId, attempts, people, record};

async fn id_of(app: &TestApp, role: Role) -> PersonId {
    people::find_by_email_norm(&app.deeds.db, &address_of(role)).await.expect("the store").expect("the person").id
}

#[tokio::test]
async fn an_empty_record_says_where_to_begin() {
    let app = TestApp::start_with_bank().await;
    let page = app.signed_in(Role::Technician).await.get("/record").await;
    let text = page.text();
    assert_eq!(page.status, 200);
    for words in ["Your record", "You are not qualified for anything yet.", "no certificate on record", "Nothing yet."]
    {
        assert!(text.contains(words), "{words} in {text}");
    }
    assert!(!text.contains("qualified, until"), "{text}");
    app.stop().await;
}

#[tokio::test]
async fn a_safety_miss_its_debrief_and_the_pass_after_it_are_told_newest_first() {
    let app = TestApp::start_with_bank().await;
    let (person, trainer) = (id_of(&app, Role::Technician).await, id_of(&app, Role::Trainer).await);
    let missed = sit(&app, person, "first-day", Sat::MissingFire).await;
    let mut browser = app.signed_in(Role::Technician).await;
    let text = browser.get("/record").await.text();
    for words in [
        "You missed a mandatory safety question in: Fire and burns. It is closed by passing again.",
        "First day on site: not passed",
        "missed (Fire and burns): \u{201c}",
        "8 of 9 right (88 %); 75 % are needed.",
        "Read: Lamps, 3 lessons",
        "safety question missed on 24 Nov 2026",
    ] {
        assert!(text.contains(words), "{words} in {text}");
    }
    assert!(!text.contains("You may be sent to"), "{text}");

    app.clock.advance(3600);
    let held = hold_debrief(&app.deeds, trainer, missed, "Dry straw lights below the outlet's heat.").await;
    assert_eq!(held.expect("the store"), DebriefHeld::Held);
    app.clock.advance(3600);
    certify(&app, person, "first-day").await;
    let text = browser.get("/record").await.text();
    let mut at = 0;
    for words in [
        "You may be sent to work that needs: Lamps, Fire and burns, Exhaust in closed spaces, When to stop and call.",
        "24 Nov 2029",
        "First day on site: passed",
        "Debrief held by Test trainer",
        "Dry straw lights below the outlet",
        "First day on site: not passed",
    ] {
        let found = text[at..].find(words);
        at += found.unwrap_or_else(|| panic!("{words} after {} in {text}", &text[..at]));
    }
    app.stop().await;
}

#[tokio::test]
async fn a_graded_sitting_shows_questions_answers_versions_and_proof_but_never_the_seed() {
    let app = TestApp::start_with_bank().await;
    let person = id_of(&app, Role::Technician).await;
    let attempt = sit(&app, person, "first-day", Sat::MissingFire).await;
    let page = app.signed_in(Role::Technician).await.get(&format!("/record/sitting/{attempt}")).await;
    let text = page.text();
    assert_eq!(page.status, 200, "{text}");
    let kept = attempts::by_id(&app.deeds.db, person, attempt).await.expect("the attempt");
    let hex = |bytes: &[u8]| bytes.iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    use sha2::Digest as _;
    assert!(text.contains(&hex(&sha2::Sha256::digest(kept.seed))));
    assert!(!page.body.contains(&hex(&kept.seed)));
    for entry in record::of_subject(&app.deeds.db, "attempt", attempt.0).await.expect("the record") {
        assert!(text.contains(&entry.hash) && text.contains(&entry.deed.replace('_', " ")), "{entry:?}");
    }
    for words in
        ["Not passed.", "Chosen, not right", "Right, not chosen", "whatever the score", "These are training values."]
    {
        assert!(text.contains(words), "{words} in {text}");
    }
    let missed: Vec<_> = text.match_indices(": wrong").collect();
    assert_eq!(missed.len(), 1, "one question is wrong");
    for asked in attempts::questions(&app.deeds.db, attempt).await.expect("the questions") {
        let question: Question = serde_json::from_str(&asked.question.json).expect("a question");
        let source = &question.source;
        let versions = format!(
            "Template {} version {}, machine {} version {}, model version {}",
            source.template, source.template_version, source.machine, source.machine_version, source.model_version
        );
        assert!(text.contains(&versions), "{versions}");
        if let Key::Options(right) = &question.key {
            assert!(page.body.matches("is-right").count() >= right.len());
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn an_open_sitting_and_one_of_somebody_else_look_like_none() {
    let app = TestApp::start_with_bank().await;
    let (technician, trainer) = (id_of(&app, Role::Technician).await, id_of(&app, Role::Trainer).await);
    let open = begin(&app, technician, "first-day").await;
    let foreign = sit(&app, trainer, "first-day", Sat::Right).await;
    let mut browser = app.signed_in(Role::Technician).await;
    let nothing = browser.get("/record/sitting/999999").await;
    for attempt in [open, foreign] {
        let reply = browser.get(&format!("/record/sitting/{attempt}")).await;
        assert_eq!((reply.status, reply.body), (404, nothing.body.clone()), "{attempt}");
    }
    let mut manager = app.signed_in(Role::ServiceManager).await;
    for path in [
        format!("/qualified/people/{technician}/sitting/{open}"),
        format!("/qualified/people/{technician}/sitting/{foreign}"),
        "/qualified/people/999999".to_owned(),
        "/record".to_owned(),
    ] {
        assert_eq!(manager.get(&path).await.status, 404, "{path}");
    }
    assert_eq!(manager.get(&format!("/qualified/people/{trainer}/sitting/{foreign}")).await.status, 200);

    // The record of an open sitting holds nothing of its questions.
    let page = browser.get("/record").await;
    assert!(page.text().contains("First day on site: under way"), "{}", page.text());
    for asked in attempts::questions(&app.deeds.db, open).await.expect("the questions") {
        let question: Question = serde_json::from_str(&asked.question.json).expect("a question");
        for secret in question.choices.iter().map(|choice| &choice.why).chain(&question.reasons) {
            assert!(!page.body.contains(secret.as_str()), "{secret}");
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn what_the_clock_handed_in_says_so() {
    let app = TestApp::start_with_bank().await;
    let person = id_of(&app, Role::Trainer).await;
    let attempt = begin(&app, person, "first-day").await;
    app.clock.advance(16 * 60);
    sootmark::actions::close_overdue::close_overdue(&app.deeds).await.expect("closed");
    let mut browser = app.signed_in(Role::Trainer).await;
    for path in ["/record".to_owned(), format!("/record/sitting/{attempt}")] {
        let text = browser.get(&path).await.text();
        assert!(text.contains("Time ran out; what had been saved by then was graded."), "{path}: {text}");
    }
    let text = browser.get(&format!("/record/sitting/{attempt}")).await.text();
    assert!(text.contains(": not answered") && text.contains("the program"), "{text}");
    app.stop().await;
}
