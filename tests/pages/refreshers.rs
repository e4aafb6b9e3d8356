//! What happened with a person: who writes it down, what it does to the certificate, and how it clears.

use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::sittings::certify;
use sootmark::domain::people::Role;
use sootmark::store::PersonId;

const DAY: i64 = 86_400;
const INES: &str = "ines@example.org";

async fn certified(app: &TestApp) -> PersonId {
    let person = app.person("Ines Varga", INES, Role::Technician).await;
    certify(app, person, "first-day").await;
    app.clock.advance(DAY);
    person
}

async fn write_down(browser: &mut Client, email: &str, kind: &str, text: &str) -> Reply {
    let page = browser.get("/refreshers").await;
    let key = page.between("name=\"key\" value=\"", "\"").expect("a key").to_owned();
    let fields = [("key", key.as_str()), ("email", email), ("kind", kind), ("text", text)];
    let first = browser.post("/refreshers", &fields).await;
    if first.status == 303 {
        assert_eq!(browser.post("/refreshers", &fields).await.status, 303, "the same click twice is harmless");
    }
    first
}

async fn lamps(app: &TestApp) -> String {
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let rows = manager.get("/qualified.csv?competence=lamps&search=ines").await.body;
    rows.lines().nth(1).expect("a row").to_owned()
}

#[tokio::test]
async fn an_unsafe_act_suspends_until_a_new_examination() {
    let app = TestApp::start_with_bank().await;
    let person = certified(&app).await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let text = "Left a parked regeneration alone beside straw.";
    let reply = write_down(&mut trainer, "INES@example.org", "unsafe_act", text).await;
    assert_eq!(reply.location(), "/refreshers?done=now");
    let listed = trainer.get("/refreshers").await.text();
    assert!(listed.contains("Ines Varga") && listed.contains("unsafe act on 25 Nov 2026"), "{listed}");
    let row = lamps(&app).await;
    assert!(row.contains("suspended") && row.contains("unsafe act on 25 Nov 2026"), "{row}");
    let record = app.signed_in_as(INES).await.get("/record").await.text();
    assert!(record.contains(text), "{record}");
    let about = app.deeds_about(INES).await;
    assert_eq!(about.iter().filter(|deed| *deed == "refresher_trigger_recorded").count(), 1, "{about:?}");

    app.clock.advance(DAY);
    certify(&app, person, "first-day").await;
    assert!(lamps(&app).await.contains(",qualified,"), "examined since");
    app.stop().await;
}

#[tokio::test]
async fn a_near_miss_gives_thirty_days_and_then_suspends() {
    let app = TestApp::start_with_bank().await;
    certified(&app).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    assert_eq!(write_down(&mut manager, INES, "near_miss", "Straw began to smoke.").await.status, 303);
    let row = lamps(&app).await;
    assert!(row.contains(",refresher,") && row.contains("refresher by 25 Dec 2026: near miss"), "{row}");
    app.clock.advance(30 * DAY);
    let row = lamps(&app).await;
    assert!(row.contains(",suspended,") && row.contains("refresher overdue since 25 Dec 2026: near miss"), "{row}");
    app.stop().await;
}

#[tokio::test]
async fn what_is_wrong_is_said_and_nobody_writes_about_themselves() {
    let app = TestApp::start_with_bank().await;
    let mut trainer = app.signed_in(Role::Trainer).await;
    let own = address_of(Role::Trainer);
    for (email, kind, text, said) in [
        ("nobody@example.org", "near_miss", "t", "Nobody here has this address."),
        (INES, "changed_machine", "t", "Choose what happened."),
        (INES, "near_miss", " ", "Write down what happened"),
        (own.as_str(), "near_miss", "t", "Somebody else writes down what happened with you."),
    ] {
        let reply = write_down(&mut trainer, email, kind, text).await;
        assert!(reply.status == 422 && reply.text().contains(said), "{said}: {}", reply.text());
    }
    let mut technician = app.signed_in(Role::Technician).await;
    assert_eq!(technician.get("/refreshers").await.status, 404);
    app.stop().await;
}
