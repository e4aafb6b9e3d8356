//! A whole practical task on a phone next to the machine: opened, marked step by step, carried over a lost connection and to
//! another device, and signed by both.

use super::driver::{Browser, Scripts};
use crate::support::app::PASSWORD;
use crate::support::program::Workshop;
use sootmark::domain::examination::observation::Mark;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::people::{self, NewPerson};
use sootmark::store::{Db, ObservationId, PersonId, StoreError, observations, write};

/// A trainer at the technician's branch, with the technician's password.
async fn trainer_beside(db: &Db, technician: PersonId) {
    let of = people::by_id(db, technician).await.expect("the technician");
    let hash = people::find_password_phc(db, technician).await.expect("the store");
    let new = NewPerson {
        branch_id: of.branch_id,
        email: EmailAddress::parse("watcher@example.org").expect("an address"),
        display_name: PersonName::parse("Test watcher").expect("a name"),
        role: Role::Trainer,
        password_phc: hash,
        temperature_unit: TemperatureUnit::Celsius,
        scheme_key: None,
        created_at: of.created_at,
    };
    write::<_, StoreError, _>(db, async |tx| people::insert(tx, new).await).await.expect("a trainer");
}

/// Chooses a mark for a step; the page saves it.
async fn mark(phone: &Browser, place: usize, mark: &str) {
    let row = phone.find(&format!("#step-{place} label:has(input[value={mark}])")).await;
    row.click().await.expect("a click");
}

async fn says(phone: &Browser, place: usize, words: &str) {
    phone.sees(words).await;
    let state = phone.find(&format!("#step-{place} [data-save-state]")).await;
    while !state.text().await.expect("words").contains(words) {
        tokio::task::yield_now().await;
    }
}

async fn saved(db: &Db, id: ObservationId) -> Vec<(i32, Mark)> {
    let kept = observations::steps(db, id).await.expect("the steps");
    kept.into_iter().map(|kept| (kept.position, kept.marked.mark)).collect()
}

/// Opens the daily check of the technician on the phone; its number.
async fn opened(phone: &Browser) -> ObservationId {
    phone.go("/observe").await;
    phone.choose("person", "Sitter 0").await;
    phone.choose("task", "Daily check").await;
    phone.choose("machine", "Tarrel 60, telehandler").await;
    phone.press("Open the checklist").await;
    phone.sees("Review and sign").await;
    phone.path().await.split('/').nth(2).expect("its number").parse().expect("a number")
}

/// Every target can be hit with a glove on, and nothing is wider than the phone.
async fn fits_a_phone(phone: &Browser) {
    let script =
        "for (const one of document.querySelectorAll('main label.answer, main button, main a.main, main summary')) {
           const box = one.getBoundingClientRect();
           if (box.height > 0 && box.height < 44) throw new Error(`${one.textContent}: ${box.height} px`);
         }
         if (document.documentElement.scrollWidth > innerWidth) throw new Error('wider than the phone');";
    phone.run(script).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_whole_observation_on_a_phone_across_a_lost_connection() {
    let (workshop, people) = Workshop::with_technicians(1, "operator").await;
    let db = workshop.open().await;
    trainer_beside(&db, people[0]).await;
    let program = workshop.serve();
    let address = program.address;
    let origin = format!("http://{address}");
    let phone = Browser::open(&origin, Scripts::On, 360, 800).await;
    phone.sign_in("watcher@example.org", PASSWORD).await;
    let id = opened(&phone).await;
    let steps = phone.find_all("form[data-saves]").await.len();
    fits_a_phone(&phone).await;
    mark(&phone, 1, "seen").await;
    says(&phone, 1, "Saved ").await;
    assert_eq!(saved(&db, id).await, [(1, Mark::Seen)]);
    phone.picture("observation").await;

    // No connection: what is marked now stays on the page, and the page says that it is not saved.
    program.kill();
    mark(&phone, 2, "not_seen").await;
    says(&phone, 2, "Not saved yet: no connection").await;
    phone.picture("observation-unsaved").await;
    assert_eq!(saved(&db, id).await, [(1, Mark::Seen)]);
    let program = workshop.serve_again(address);
    says(&phone, 2, "Saved ").await;
    assert_eq!(saved(&db, id).await, [(1, Mark::Seen), (2, Mark::NotSeen)]);

    // It goes on at another device, without scripts.
    let other = Browser::open(&origin, Scripts::Off, 360, 800).await;
    other.sign_in("watcher@example.org", PASSWORD).await;
    other.go(&format!("/observe/{id}")).await;
    for place in 2..=steps {
        mark(&other, place, "seen").await;
        let button = other.find(&format!("#step-{place} button")).await;
        other.leave_by(button).await;
    }
    assert_eq!(saved(&db, id).await.len(), steps);
    other.press("Review and sign").await;
    other.sees("This comes to: passed.").await;
    other.fill("assessor_password", PASSWORD).await;
    other.fill("candidate_password", "not the right one").await;
    other.press("Sign for both").await;
    other.sees("the candidate's password is not right").await;
    assert_eq!(observations::find_signed(&db, id).await.expect("the store"), None);
    other.fill("assessor_password", PASSWORD).await;
    other.fill("candidate_password", PASSWORD).await;
    other.press("Sign for both").await;
    other.sees("Signed by both").await;
    other.picture("observation-signed").await;
    assert!(observations::find_signed(&db, id).await.expect("the store").is_some_and(|signed| signed.outcome.passed));

    // The first phone learns that it is closed.
    mark(&phone, 1, "not_seen").await;
    says(&phone, 1, "can no longer be changed").await;
    assert_eq!(saved(&db, id).await[0], (1, Mark::Seen));
    phone.close().await;
    other.close().await;
    program.kill();
    db.close().await.expect("the database closes");
    workshop.close().await;
}
