//! A case in an examination: its parts are opened and answered in order, and what the next part tells the end of is fixed.

use super::{SCHEME, hand_in, page_of, person, shows};
use crate::pages::practise::nothing_given_away;
use crate::support::app::TestApp;
use crate::support::client::{Client, Reply};
use crate::support::sittings::{fields_of, right, wrong};
use sootmark::domain::people::Role;
use sootmark::domain::scenario::generate::{Seed, generate_all};
use sootmark::domain::scenario::question::Question;
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::attempts::{self, AttemptKind, NewAttempt, NewQuestion};
use sootmark::store::{AttemptId, StoreError, write};

const CASE: &str = "parked/from-the-field-to-the-slab";

/// Every part of the case on some machine.
fn case(app: &TestApp) -> Vec<Question> {
    let read = app.deeds.bank.now();
    let entry = read.bank.template(CASE).expect("the case");
    let machine = read.bank.machines().find(|machine| entry.template.fits(&machine.profile.id)).expect("a machine");
    let seed = Seed { secret: [3; 32], stream: 1 };
    generate_all(&entry.template, entry.version, machine, seed, TemperatureUnit::Celsius).expect("a case")
}

fn kept(question: &Question) -> NewQuestion {
    let count = |count: usize| i32::try_from(count).expect("a small number");
    NewQuestion {
        template_key: question.source.template.clone(),
        template_version: 1,
        machine_key: question.source.machine.clone(),
        machine_version: 1,
        model_version: 1,
        competence_key: question.competence.clone(),
        mandatory: question.mandatory,
        json: String::from_utf8(question.bytes()).expect("JSON"),
        part: count(question.part().0),
        parts: count(question.part().1),
    }
}

/// The technician sits an examination that is this case.
async fn begun(app: &TestApp) -> (Client, AttemptId, Vec<Question>) {
    let questions = case(app);
    let now = app.clock.now();
    let new = NewAttempt {
        person_id: person(app, Role::Technician).await,
        kind: AttemptKind::Examination,
        scheme_key: Some(SCHEME.to_owned()),
        scheme_version: Some(1),
        module_key: None,
        seed: [1; 32],
        temperature_unit: TemperatureUnit::Celsius,
        started_at: now,
        deadline_at: Some(now.plus_seconds(900)),
    };
    let rows = questions.iter().map(kept).collect();
    let opened = write::<_, StoreError, _>(&app.deeds.db, async |tx| attempts::open_attempt(tx, new, rows).await).await;
    (app.signed_in(Role::Technician).await, opened.expect("a sitting"), questions)
}

async fn answers(app: &TestApp, attempt: AttemptId) -> Vec<(i32, String)> {
    let saved = attempts::responses(&app.deeds.db, attempt).await.expect("the store");
    saved.into_iter().map(|saved| (saved.position, saved.answer)).collect()
}

/// That a page tells nothing of a later part.
fn tells_nothing_of(page: &Reply, later: &Question) {
    for text in later.shown.story.iter().chain([&later.shown.prompt]) {
        // Two parts may ask in the same words; what has happened since is never the same.
        if *text != later.shown.prompt {
            assert!(!page.text().contains(text.as_str()), "{text}");
        }
    }
}

#[tokio::test]
async fn a_later_part_opens_only_after_the_one_before() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt, questions) = begun(&app).await;
    let first = browser.get(&page_of(attempt, 1)).await;
    assert!(first.text().contains("Part 1 of 3 of a case"), "{}", first.text());
    assert!(first.text().contains("you cannot change it afterwards"), "{}", first.text());
    assert!(!first.body.contains("data-saves"), "nothing is saved, and so fixed, while it is still filled in");
    assert!(first.text().contains("2 comes after 1") && first.text().contains("3 comes after 2"), "{}", first.text());
    assert!(!first.body.contains(&format!("href=\"{}\"", page_of(attempt, 2))));
    for later in [2, 3] {
        let path = page_of(attempt, later);
        let fields = fields_of(&right(&questions[later - 1]));
        let replies = [
            browser.get(&path).await,
            browser.post_all(&path, &fields).await,
            browser.post(&path, &[("choice", "99")]).await,
        ];
        for reply in &replies {
            assert_eq!(reply.status, 409, "{}", reply.text());
            assert!(reply.text().contains("Not yet") && reply.text().contains("the one before it"), "{}", reply.text());
            questions.iter().for_each(|question| tells_nothing_of(reply, question));
        }
    }
    questions[1..].iter().for_each(|later| tells_nothing_of(&first, later));
    nothing_given_away(&first, &questions[0]);
    assert_eq!(answers(&app, attempt).await, []);
    app.stop().await;
}

#[tokio::test]
async fn an_answer_is_fixed_once_the_next_part_can_be_read() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt, questions) = begun(&app).await;
    let (first, second) = (page_of(attempt, 1), page_of(attempt, 2));
    let given = wrong(&questions[0]);
    for click in ["once", "and once more"] {
        let saved = browser.post_all(&first, &fields_of(&given)).await;
        assert_eq!((saved.status, saved.location()), (303, second.as_str()), "{click}");
    }
    let kept = answers(&app, attempt).await;
    let changed = browser.post_all(&first, &fields_of(&right(&questions[0]))).await;
    assert_eq!(changed.status, 409);
    assert!(changed.text().contains("Not changed") && changed.text().contains("stays as it was"), "{}", changed.text());
    assert_eq!(answers(&app, attempt).await, kept);

    let page = browser.get(&first).await;
    shows(&page, &given);
    assert!(page.body.contains("<fieldset class=\"fixed\" disabled>"), "{}", page.body);
    assert!(page.text().contains("Your answer is saved and stays as it is"), "{}", page.text());
    assert!(!page.body.contains(">Save and go on<") && page.body.contains(&format!("href=\"{second}\"")));
    nothing_given_away(&page, &questions[0]);

    let next = browser.get(&second).await;
    assert!(next.text().contains("Part 2 of 3 of a case"), "{}", next.text());
    for told in questions[0].shown.story.iter().chain(&questions[1].shown.story) {
        assert!(next.text().contains(told.as_str()), "{told} in {}", next.text());
    }
    tells_nothing_of(&next, &questions[2]);
    app.stop().await;
}

#[tokio::test]
async fn the_last_part_can_be_changed_and_an_open_one_counts_as_wrong() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt, questions) = begun(&app).await;
    browser.post_all(&page_of(attempt, 1), &fields_of(&right(&questions[0]))).await;
    browser.post_all(&page_of(attempt, 2), &fields_of(&right(&questions[1]))).await;
    let last = page_of(attempt, 3);
    assert!(browser.get(&last).await.body.contains("data-saves"), "nothing follows it");
    let review = browser.get(&format!("/examine/sitting/{attempt}/review")).await;
    assert!(review.text().contains("One question is open."), "{}", review.text());
    for answer in [wrong(&questions[2]), right(&questions[2]), wrong(&questions[2])] {
        let saved = browser.post_all(&last, &fields_of(&answer)).await;
        assert_eq!(saved.status, 303, "{}", saved.text());
    }
    let review = browser.get(&format!("/examine/sitting/{attempt}/review")).await;
    assert!(review.text().contains("except inside a case"), "{}", review.text());
    let (_, handed_in) = hand_in(&mut browser, attempt).await;
    let result = browser.get(handed_in.location()).await;
    assert!(result.text().contains("2 of 3 right"), "{}", result.text());
    app.stop().await;
}
