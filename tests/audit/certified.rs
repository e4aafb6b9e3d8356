//! Whoever changes a decision, an appeal, a certificate, what was done to it or what asks for a refresher: the check finds it.

use super::tamper::{each_is_found, on_each_with_address, unheld};
use crate::support::app::{TestApp, address_of};
use crate::support::sittings::{Sat, certify, decided, manager, sit};
use sootmark::actions::appeal::{Heard, Lodged, decide_appeal, lodge_appeal};
use sootmark::actions::change_certificate::{CertificateChange, change_certificate};
use sootmark::actions::decide::{Decided, Decider};
use sootmark::actions::load_bank::load_bank;
use sootmark::actions::record_trigger::{Happened, TriggerRecorded, record_trigger};
use sootmark::bank_files;
use sootmark::config::Settings;
use sootmark::domain::certification::certificate::EventKind;
use sootmark::domain::certification::decision::{Finding, Verdict};
use sootmark::domain::certification::trigger::Kind;
use sootmark::domain::people::Role;
use sootmark::store::{Db, people};

const NOT_ON_RECORD: &str = "it is not what was put on record";

/// A tampering, and words that the report then has.
const TAMPERINGS: [(&str, &str); 19] = [
    ("UPDATE decision SET reason = 'As proposed.' WHERE outcome = 'refused'", NOT_ON_RECORD),
    ("UPDATE decision SET outcome = 'granted' WHERE outcome = 'refused'", NOT_ON_RECORD),
    ("UPDATE decision SET decided_by = (SELECT max(id) FROM person) WHERE outcome = 'refused'", NOT_ON_RECORD),
    ("UPDATE decision SET decided_by = NULL WHERE outcome = 'refused'", "\"certification decided\" is on record"),
    ("UPDATE decision SET decided_at = decided_at - 1 WHERE outcome = 'refused'", NOT_ON_RECORD),
    ("UPDATE appeal SET text = 'I agree.'", NOT_ON_RECORD),
    ("DELETE FROM appeal", "\"appeal lodged\" is on record"),
    ("UPDATE appeal_decision SET outcome = 'upheld'", NOT_ON_RECORD),
    ("DELETE FROM appeal_decision", "\"appeal decided\" is on record"),
    ("UPDATE certificate SET valid_until = valid_until + 86400000000", NOT_ON_RECORD),
    ("UPDATE certificate SET scheme_version = 7", NOT_ON_RECORD),
    ("UPDATE certificate SET running = 9 WHERE id = (SELECT max(id) FROM certificate)", "its number does not follow"),
    ("DELETE FROM certificate_machine", NOT_ON_RECORD),
    ("UPDATE certificate_event SET reason = 'Nothing.' WHERE kind = 'suspended'", NOT_ON_RECORD),
    ("UPDATE certificate_event SET kind = 'reinstated' WHERE kind = 'suspended'", NOT_ON_RECORD),
    ("DELETE FROM certificate_event WHERE kind = 'suspended'", "\"certificate changed\" is on record"),
    ("DELETE FROM certificate_event WHERE kind = 'renewed'", "has taken its place, and it does not say so"),
    (
        "INSERT INTO certificate_event (certificate_id, kind, reason, done_by, at, record_entry_id)
           SELECT max(certificate_id), 'renewed', 'x', NULL, max(at), max(record_entry_id) FROM certificate_event",
        "marked as renewed, and none is later",
    ),
    ("UPDATE refresher_trigger SET text = 'Nothing happened.'", NOT_ON_RECORD),
];

/// Somebody who was refused and appealed in vain; somebody who was certified twice, with an unsafe act, and suspended.
async fn made(app: &TestApp) {
    load_bank(&app.deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
    let of = async |role| {
        people::find_by_email_norm(&app.deeds.db, &address_of(role)).await.expect("the store").expect("a person").id
    };
    let (by, administrator) = (manager(app).await, of(Role::Administrator).await);
    let refused = app.person("Ines Varga", "ines@fennmark.example", Role::Technician).await;
    let sat = sit(app, refused, "first-day", Sat::Right).await;
    let done = decided(app, by, sat, Verdict::Refused, "Was told the answers.").await;
    assert_eq!(done, Decided::Done(None));
    let lodged = lodge_appeal(&app.deeds, refused, sat, "Nobody told me.").await.expect("the store");
    assert_eq!(lodged, Lodged::Done);
    let other = Decider { person: administrator, role: Role::Administrator, branch: app.branch };
    let heard = decide_appeal(&app.deeds, other, sat, Finding::Dismissed, "Two people heard it.").await;
    assert_eq!(heard.expect("the store"), Heard::Done(None));
    let holder = app.person("Owen Lisle", "owen@fennmark.example", Role::Technician).await;
    certify(app, holder, "first-day").await;
    app.clock.advance(60);
    let number = certify(app, holder, "first-day").await;
    let changed =
        change_certificate(&app.deeds, by, number, EventKind::Suspended, "Left a hot machine on straw.").await;
    assert_eq!(changed.expect("the store"), CertificateChange::Done);
    let trainer = of(Role::Trainer).await;
    let happened = Happened {
        person: holder,
        kind: Kind::NearMiss,
        machine: None,
        text: "Parked on stubble, seen in time.",
        key: "a",
    };
    assert_eq!(record_trigger(&app.deeds, trainer, happened).await.expect("the store"), TriggerRecorded::Done);
}

#[tokio::test]
async fn tampering_with_certification_is_found() {
    let once = async |db: Db, url: &str| {
        let app = TestApp::start_on(db, Settings { secure_cookies: false, ..Settings::default() }).await;
        made(&app).await;
        let past = unheld(url).await;
        each_is_found(&past, TAMPERINGS.iter().map(|(sql, says)| ((*sql).to_owned(), *says))).await;
        past.close().await.expect("closed");
        app.stop().await;
    };
    on_each_with_address(once).await;
}
