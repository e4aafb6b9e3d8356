//! Flags for later, the last look with what is open and what is flagged, and the warnings near the end.

use super::{begun, deeds_of, hand_in, page_of, state};
use crate::support::app::TestApp;
use crate::support::sittings::{fields_of, questions_of, right};
use sootmark::domain::people::Role;
use sootmark::domain::scenario::question::{Kind, Question};
use sootmark::store::AttemptId;
use sootmark::store::attempts::{self, AttemptState};

fn flag_of(attempt: AttemptId, position: usize) -> String {
    format!("{}/flag", page_of(attempt, position))
}

/// Where the first question is that is chosen from options and stands alone.
fn first_chosen(questions: &[Question]) -> usize {
    let plain = |question: &Question| question.shown.kind == Kind::ChooseOne && question.shown.case.is_none();
    questions.iter().position(plain).expect("such a question") + 1
}

#[tokio::test]
async fn a_flag_is_kept_shown_everywhere_and_taken_off() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let page = browser.get(&page_of(attempt, 1)).await;
    assert!(page.text().contains("Flag for later"), "{}", page.text());
    for _twice in 0..2 {
        let flagged = browser.post(&flag_of(attempt, 1), &[("flag", "yes")]).await;
        assert_eq!((flagged.status, flagged.location()), (303, page_of(attempt, 1).as_str()), "{}", flagged.text());
    }
    // On another device, too.
    let mut other = app.signed_in(Role::Technician).await;
    let page = other.get(&page_of(attempt, 1)).await;
    assert!(page.text().contains("Take the flag off"), "{}", page.text());
    assert_eq!(page.body.matches(">flagged<").count(), 1);
    let review = other.get(&format!("/examine/sitting/{attempt}/review")).await;
    assert!(review.text().contains("9 questions are open."), "a flag is no answer: {}", review.text());
    let listed = review.between("Flagged for later.", "</ul>").expect("the flagged ones");
    assert!(listed.contains(&format!("href=\"{}\"", page_of(attempt, 1))), "{listed}");
    assert!(attempts::responses(&app.deeds.db, attempt).await.expect("the store").is_empty());

    assert_eq!(other.post(&flag_of(attempt, 1), &[("flag", "no")]).await.status, 303);
    let review = browser.get(&format!("/examine/sitting/{attempt}/review")).await;
    assert!(!review.text().contains("Flagged for later"), "{}", review.text());
    assert_eq!(deeds_of(&app, attempt).await.len(), 1, "a flag is nobody's business in three years");
    app.stop().await;
}

#[tokio::test]
async fn what_stood_on_the_page_comes_back_unsaved_with_the_flag() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let questions = questions_of(&app, attempt).await;
    let place = first_chosen(&questions);
    let answer = fields_of(&right(&questions[place - 1]));
    let mut fields = answer.clone();
    fields.push(("flag".to_owned(), "yes".to_owned()));
    browser.get(&page_of(attempt, place)).await;
    let page = browser.post_all(&flag_of(attempt, place), &fields).await;
    assert_eq!(page.status, 200);
    assert!(page.text().contains("Flagged. The answer on this page is not saved yet"), "{}", page.text());
    assert_eq!(page.body.matches(" checked").count(), 1, "it is still chosen");
    assert!(attempts::responses(&app.deeds.db, attempt).await.expect("the store").is_empty());
    // Once it is saved, a flag leads back to the page.
    assert_eq!(browser.post_all(&page_of(attempt, place), &answer).await.status, 303);
    assert_eq!(browser.post_all(&flag_of(attempt, place), &fields).await.status, 303);
    app.stop().await;
}

#[tokio::test]
async fn a_flag_changes_nothing_that_counts() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    for (position, question) in (1..).zip(questions_of(&app, attempt).await) {
        assert_eq!(browser.post_all(&page_of(attempt, position), &fields_of(&right(&question))).await.status, 303);
        assert_eq!(browser.post(&flag_of(attempt, position), &[("flag", "yes")]).await.status, 303);
    }
    let (_, done) = hand_in(&mut browser, attempt).await;
    assert!(browser.get(done.location()).await.text().contains("9 of 9 right"));
    app.stop().await;
}

#[tokio::test]
async fn a_flag_where_none_can_be_changes_nothing() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    for path in [flag_of(attempt, 1), flag_of(AttemptId(999), 1)] {
        assert_eq!(trainer.post(&path, &[("flag", "yes")]).await.status, 404, "a stranger's looks like none");
    }
    assert_eq!(browser.post(&flag_of(attempt, 99), &[("flag", "yes")]).await.status, 404);
    assert_eq!(browser.post(&flag_of(attempt, 1), &[("flag", "perhaps")]).await.status, 400);
    assert!(attempts::flags(&app.deeds.db, attempt).await.expect("the store").is_empty());
    app.clock.advance(901);
    let late = browser.post(&flag_of(attempt, 1), &[("flag", "yes")]).await;
    assert_eq!(late.status, 410, "{}", late.text());
    assert!(attempts::flags(&app.deeds.db, attempt).await.expect("the store").is_empty());
    assert_eq!(state(&app, attempt).await, AttemptState::Expired, "whoever comes too late finds the result");
    app.stop().await;
}

#[tokio::test]
async fn near_the_end_every_page_says_so() {
    let app = TestApp::start_with_bank().await;
    let (mut browser, attempt) = begun(&app).await;
    let pages = [page_of(attempt, 1), format!("/examine/sitting/{attempt}/review")];
    // 15 min: a quarter and a twelfth of it, in whole minutes.
    for (at_s, says) in
        [(0, None), (719, None), (720, Some("Less than 3 min left.")), (840, Some("Less than 1 min left."))]
    {
        let passed = app.clock.now().seconds_since(crate::support::app::BEGINNING);
        app.clock.advance(at_s - passed);
        for path in &pages {
            let page = browser.get(path).await;
            let notice = page.between("class=\"notice\" role=\"status\">", "</p>");
            assert_eq!(notice.is_some(), says.is_some(), "{at_s} s: {}", page.text());
            assert!(says.is_none_or(|says| page.text().contains(says)), "{at_s} s: {}", page.text());
            assert!(page.body.contains("data-warnings=\"180 60\""), "for the script");
        }
    }
    app.stop().await;
}
