//! The machine's clock jumps, forwards and backwards, by an hour, a day and a year, and over the nights on which clocks are
//! put forward and back. A deadline stays the moment it was; what is left never grows beyond what the scheme gives and
//! never falls below nothing; an answer counts when it came before that moment.

use crate::support::app::{BEGINNING, TestApp};
use crate::support::sittings::{begin, fields_of, questions_of, right};
use sootmark::domain::units::Moment;
use sootmark::store::attempts;

const SCHEME: &str = "first-day";
/// What the scheme gives: 15 min.
const TIME_LIMIT_S: i64 = 900;
const HOUR: i64 = 3600;
const DAY: i64 = 24 * HOUR;
const YEAR: i64 = 365 * DAY;

/// Source: Directive 2000/84/EC: in the Union summer time begins and ends at 01:00 UTC on the last Sunday of March and of
/// October. In 2026 and 2027 those are 25 Oct 2026 and 28 Mar 2027.
const BACK_IN_AUTUMN: Moment = Moment(1_792_890_000_000_000);
const FORWARD_IN_SPRING: Moment = Moment(1_806_195_600_000_000);

/// The seconds that a page says are left; nothing when the sitting is over.
fn left(page: &crate::support::client::Reply) -> Option<i64> {
    page.between("data-seconds-left=\"", "\"").map(|text| text.parse().expect("a number"))
}

#[tokio::test]
async fn a_jump_of_the_clock_moves_no_deadline() {
    for jump in [HOUR, DAY, YEAR, -HOUR, -DAY, -YEAR, 1, -1, 0] {
        let app = TestApp::start_with_bank().await;
        sits_through(&app, BEGINNING, jump).await;
        app.stop().await;
    }
}

#[tokio::test]
async fn the_nights_on_which_clocks_are_changed_are_as_long_as_any() {
    for change in [BACK_IN_AUTUMN, FORWARD_IN_SPRING] {
        for before_s in [1, 450, 899, 1800] {
            let app = TestApp::start_with_bank().await;
            sits_through(&app, change.plus_seconds(-before_s), 0).await;
            app.stop().await;
        }
    }
}

/// Somebody of a branch in Berlin begins at a moment; the clock jumps, and then goes on to the deadline and past it.
async fn sits_through(app: &TestApp, start: Moment, jump: i64) {
    app.clock.set(start);
    let berlin = app.person_in("Europe/Berlin", "Ines Varga", "ines@example.org").await;
    let attempt = begin(app, berlin, SCHEME).await;
    let begun = attempts::by_id(&app.deeds.db, berlin, attempt).await.expect("the sitting");
    assert_eq!(begun.deadline_at, Some(start.plus_seconds(TIME_LIMIT_S)), "as long as ever");
    let question = questions_of(app, attempt).await.swap_remove(0);
    let path = format!("/examine/sitting/{attempt}/1");
    let still_the_same = async || {
        let now = attempts::by_id(&app.deeds.db, berlin, attempt).await.expect("the sitting");
        assert_eq!((now.deadline_at, now.started_at), (begun.deadline_at, begun.started_at), "jump of {jump} s");
        now
    };

    app.clock.set(start.plus_seconds(jump));
    // A session of more than twelve idle hours has ended: they sign in again, whatever the clock says.
    let mut browser = app.signed_in_as("ines@example.org").await;
    let page = browser.get(&path).await;
    if jump <= TIME_LIMIT_S {
        let shown = left(&page).unwrap_or_else(|| panic!("jump of {jump} s: {} {}", page.status, page.text()));
        assert_eq!(shown, (TIME_LIMIT_S - jump).min(TIME_LIMIT_S), "jump of {jump} s");
        assert_eq!(browser.post_all(&path, &fields_of(&right(&question))).await.status, 303, "in time");
    } else {
        assert!(!page.body.contains("seconds-left=\"-"), "jump of {jump} s: {}", page.text());
        assert_eq!(browser.post_all(&path, &fields_of(&right(&question))).await.status, 410, "jump of {jump} s");
    }
    still_the_same().await;

    // The clock is right again: the deadline is where it was, unless a clock ahead of its time has handed in.
    app.clock.set(start.plus_seconds(TIME_LIMIT_S));
    let mut browser = app.signed_in_as("ines@example.org").await;
    let reply = browser.post_all(&path, &fields_of(&right(&question))).await;
    assert_eq!(reply.status, if jump <= TIME_LIMIT_S { 303 } else { 410 }, "the last moment, jump of {jump} s");
    app.clock.set(start.plus_seconds(TIME_LIMIT_S + 1));
    assert_eq!(browser.post_all(&path, &fields_of(&right(&question))).await.status, 410, "over, jump of {jump} s");
    let over = still_the_same().await;
    assert!(over.submitted_at.is_some(), "handed in by the clock");
}
