//! Letters about what somebody is to do by a day, and about the week of a branch.

use super::due::{of_kind, written_now};
use crate::support::app::{TestApp, address_of};
use crate::support::sittings::{Sat, certify, manager, read_everything, sit};
use sootmark::actions::assign::{ToDo, assign};
use sootmark::actions::letter_choices::choose_letters;
use sootmark::actions::withdraw_assignment::withdraw_assignment;
use sootmark::domain::certification::assignment::Kind as Thing;
use sootmark::domain::letters::Kind;
use sootmark::domain::people::Role;
use sootmark::domain::units::Moment;
use sootmark::store::assignments::ToWhom;
use sootmark::store::{AssignmentId, StoreError, branches, certificates, people, write};
use std::collections::BTreeSet;

const HOUR: i64 = 3600;
const DAY: i64 = 24 * HOUR;

/// Assigns the module about lamps by a day.
async fn told(app: &TestApp, to: ToWhom, due_day: &str) -> AssignmentId {
    let key = format!("{to:?} {due_day}");
    let to_do = ToDo { to, kind: Thing::Module, thing_key: "lamps", due_day, key: &key };
    let by = manager(app).await.person;
    assign(&app.deeds, by, to_do).await.expect("the store").expect("a new one")
}

#[tokio::test]
async fn an_assignment_is_written_once_and_reminded_of_as_its_day_comes_near() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person("Ines Varga", "ines@example.org", Role::Technician).await;
    // The test begins on 24 Nov 2026, 08:00. The day ends with 10 Dec: 16 days and 16 hours later.
    told(&app, ToWhom::Person(ines), "2026-12-10").await;
    assert_eq!((written_now(&app).await, written_now(&app).await), (1, 0));
    let letter = of_kind(&app, Kind::Assignment).await.remove(0);
    assert_eq!(
        (letter.to_address.as_str(), letter.subject.as_str()),
        ("ines@example.org", "You are to do something by a day")
    );
    assert!(letter.text_body.contains("by the end of 10 Dec 2026: Module"), "{}", letter.text_body);
    assert!(letter.text_body.contains("/learn/lamps"));
    assert_eq!(letter.unsubscribe_link, None, "it may not be refused");

    let to_the_end = 16 * DAY + 16 * HOUR;
    let mut gone = 0;
    for (before, written) in [(7 * DAY + 1, 0), (7 * DAY, 1), (DAY + 1, 0), (DAY, 1), (1, 0), (0, 0)] {
        app.clock.advance(to_the_end - before - gone);
        gone = to_the_end - before;
        assert_eq!((written_now(&app).await, written_now(&app).await), (written, 0), "{before} s before the end");
    }
    let reminders = of_kind(&app, Kind::Reminder).await;
    assert_eq!(reminders.iter().map(|letter| letter.threshold).collect::<Vec<_>>(), [7, 1]);
    assert!(reminders[0].text_body.contains("it is not done yet: Module"), "{}", reminders[0].text_body);
    app.stop().await;
}

#[tokio::test]
async fn nothing_is_written_about_what_is_done_taken_back_or_over() {
    let app = TestApp::start_with_bank().await;
    let ines = app.person("Ines Varga", "ines@example.org", Role::Technician).await;
    let first = told(&app, ToWhom::Person(ines), "2026-12-10").await;
    withdraw_assignment(&app.deeds, manager(&app).await.person, first, "Not hers.").await.expect("the store");
    told(&app, ToWhom::Person(ines), "2026-11-24").await;
    app.clock.advance(16 * HOUR);
    assert_eq!(written_now(&app).await, 0, "one was taken back, and the day of the other is over");

    told(&app, ToWhom::Person(ines), "2026-12-11").await;
    assert_eq!(written_now(&app).await, 1);
    read_everything(&app, ines, "first-day").await;
    app.clock.advance(15 * DAY);
    assert_eq!(written_now(&app).await, 0, "it is done");

    // Who may not sign in any more is written to about nothing.
    let left = app.person("Left Already", "left@example.org", Role::Technician).await;
    told(&app, ToWhom::Person(left), "2026-12-24").await;
    app.suspend(left).await;
    assert_eq!(written_now(&app).await, 0);
    app.stop().await;
}

#[tokio::test]
async fn who_comes_later_to_a_branch_is_told_then_and_not_twice_at_once() {
    let app = TestApp::start_with_bank().await;
    told(&app, ToWhom::Branch(app.branch), "2026-12-10").await;
    // The test's technician and trainer.
    assert_eq!(written_now(&app).await, 2);
    app.clock.advance(10 * DAY);
    assert_eq!(written_now(&app).await, 2, "less than seven days are left");
    app.person("Ines Varga", "ines@example.org", Role::Technician).await;
    assert_eq!((written_now(&app).await, written_now(&app).await), (1, 0), "the assignment, and no reminder with it");
    app.clock.advance(6 * DAY);
    assert_eq!(written_now(&app).await, 3, "the last day");
    app.stop().await;
}

#[tokio::test]
async fn a_managers_week_is_one_letter_on_monday_from_six_and_none_without_news() {
    let app = TestApp::start_with_bank().await;
    let fields = async |name: &str, zone: &str| {
        let (name, zone) = (name.to_owned(), zone.to_owned());
        write::<_, StoreError, _>(&app.deeds.db, async |tx| branches::insert(tx, &name, &zone).await).await
    };
    let elsewhere = fields("Upper Tarn", "UTC").await.expect("a branch");
    let other = app.person("Other Manager", "other@example.org", Role::ServiceManager).await;
    write::<_, StoreError, _>(&app.deeds.db, async |tx| people::set_branch(tx, other, elsewhere).await)
        .await
        .expect("moved");
    // Monday, 30 Nov 2026, 06:00: there is nothing to say.
    app.clock.advance(5 * DAY + 22 * HOUR);
    assert_eq!(written_now(&app).await, 0);

    let ines = app.person("Ines Varga", "ines@example.org", Role::Technician).await;
    let number = certify(&app, ines, "first-day").await;
    let until = certificates::by_number(&app.deeds.db, number).await.expect("it").entry.valid_until;
    told(&app, ToWhom::Person(ines), "2026-12-01").await;
    // It is done: certify has read everything. So one more for somebody who has not.
    let jost = app.person("Jost Ahlers", "jost@example.org", Role::Technician).await;
    told(&app, ToWhom::Person(jost), "2026-12-02").await;

    // The last Monday that is 60 days or less before the certificate's end, from the calendar.
    let day = 86_400_000_000;
    let monday = |at: Moment| {
        // Source: 1 Jan 1970 was a Thursday (ISO 8601); day 4 after it was a Monday.
        let days = at.0.div_euclid(day);
        Moment((days - (days - 4).rem_euclid(7)) * day)
    };
    let at_six = |at: Moment| Moment(at.0 + 6 * day / 24);
    let this = at_six(monday(Moment(until.0 - 14 * day)));
    app.clock.set(Moment(this.0 - 1));
    written_now(&app).await;
    assert!(of_kind(&app, Kind::Digest).await.is_empty(), "a moment before six");
    let waits = sit(&app, jost, "first-day", Sat::Right).await;
    app.clock.set(this);
    let (one, two) = (written_now(&app).await, written_now(&app).await);
    assert_eq!((one, two), (1, 0), "to the manager of the branch, once; the other has no news of her own");
    let letter = of_kind(&app, Kind::Digest).await.remove(0);
    assert_eq!(letter.to_address, address_of(Role::ServiceManager));
    assert_eq!(letter.subject, "The week at your branch");
    let text = &letter.text_body;
    for part in [
        "Certificates that end in the next 60 days:",
        "- Ines Varga: First day",
        "Waits for your decision:",
        "- Jost Ahlers: First day",
        "/decisions",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
    assert!(!text.contains("Refreshers that are due"), "there are none: {text}");
    assert!(waits.0 > 0 && letter.unsubscribe_link.is_some());

    // The next Monday it is another week; and not any more when it is not wanted.
    app.clock.advance(7 * DAY);
    assert_eq!(of_kind_after(&app).await, 2);
    let by = manager(&app).await;
    choose_letters(&app.deeds, by.person, by.role, &BTreeSet::new()).await.expect("the store");
    app.clock.advance(7 * DAY);
    assert_eq!(of_kind_after(&app).await, 2);
    app.stop().await;
}

/// How many digests there are after a look.
async fn of_kind_after(app: &TestApp) -> usize {
    written_now(app).await;
    of_kind(app, Kind::Digest).await.len()
}

#[tokio::test]
async fn what_is_overdue_stands_in_the_week() {
    let app = TestApp::start_with_bank().await;
    let jost = app.person("Jost Ahlers", "jost@example.org", Role::Technician).await;
    told(&app, ToWhom::Person(jost), "2026-11-28").await;
    // Monday, 30 Nov 2026, 06:00.
    app.clock.advance(5 * DAY + 22 * HOUR);
    assert_eq!(written_now(&app).await, 1);
    let text = of_kind(&app, Kind::Digest).await.remove(0).text_body;
    assert!(text.contains("Overdue assignments:\n\n- Jost Ahlers: Module"), "{text}");
    assert!(text.contains("was due on 28 Nov 2026"), "{text}");
    app.stop().await;
}
