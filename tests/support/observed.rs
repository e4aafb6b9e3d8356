//! Practical tasks watched through the deeds, without a browser.

use super::app::{PASSWORD, TestApp, address_of};
use sootmark::actions::observe::{Assessor, Opened, StepSaved, ToWatch, mark_step, open_observation};
use sootmark::actions::sign_observation::{Passwords, Signing, sign_observation};
use sootmark::domain::examination::observation::{Mark, Marked, Task};
use sootmark::domain::people::Role;
use sootmark::store::{ObservationId, PersonId, observations, people};

/// Both passwords as they are.
pub(crate) const BOTH: Passwords<'static> = Passwords { assessor: PASSWORD, candidate: PASSWORD };

/// The branch's person of a role, as an assessor.
pub(crate) async fn assessor(app: &TestApp, role: Role) -> Assessor {
    let person = people::find_by_email_norm(&app.deeds.db, &address_of(role)).await.expect("the store");
    Assessor { person: person.expect("a person").id, branch: app.branch }
}

/// Opens one on the telehandler.
pub(crate) async fn open(app: &TestApp, by: Assessor, person: PersonId, task: Task) -> ObservationId {
    let key = format!("{} {} {}", person, task.id(), app.clock.now().0);
    let what = ToWatch { person, task, machine: "tarrel-60", key: &key };
    match open_observation(&app.deeds, by, what).await.expect("the store") {
        Opened::Open(id) => id,
        other => panic!("{other:?}"),
    }
}

/// Marks every step as seen but those at some places, which were not.
pub(crate) async fn mark_all(app: &TestApp, by: Assessor, id: ObservationId, missed: &[usize]) {
    let of = observations::by_id_of_anyone(&app.deeds.db, id).await.expect("the observation");
    for place in 1..=of.list().expect("a list").steps.len() {
        let mark = if missed.contains(&place) { Mark::NotSeen } else { Mark::Seen };
        let position = i32::try_from(place).expect("a place");
        let marked = Marked { mark, remark: String::new() };
        let saved = mark_step(&app.deeds, by, id, position, &marked).await.expect("the store");
        assert!(matches!(saved, StepSaved::Saved(_)), "{saved:?}");
    }
}

/// A task from opening to both signatures; whether it was passed.
pub(crate) async fn watched(app: &TestApp, by: Assessor, person: PersonId, task: Task, missed: &[usize]) -> bool {
    let id = open(app, by, person, task).await;
    mark_all(app, by, id, missed).await;
    match sign_observation(&app.deeds, by, id, BOTH).await.expect("the store") {
        Signing::Done(outcome) => outcome.passed,
        other => panic!("{other:?}"),
    }
}
