//! Whoever changes what was written down while somebody watched, the terms of a sitting, or more time: the check finds it.

use super::tamper::{after, each_is_found, on_each_with_address, unheld};
use crate::support::app::{TestApp, address_of};
use crate::support::sittings::{begin, manager};
use sootmark::actions::invigilate::Invigilator;
use sootmark::actions::load_bank::load_bank;
use sootmark::actions::note_incident::{Noted, Seen, note_incident};
use sootmark::actions::set_extra_time::{ExtraTimeSet, Setter, set_extra_time};
use sootmark::bank_files;
use sootmark::config::Settings;
use sootmark::domain::examination::extra_time::ExtraTime;
use sootmark::domain::people::Role;
use sootmark::store::incidents::IncidentKind;
use sootmark::store::{AttemptId, Db, PersonId, attempts, people};

const NOT_THOSE: &str = "are not those that were put on record";

/// A tampering, and words that the report then has.
const TAMPERINGS: [(&str, &str); 13] = [
    ("UPDATE attempt SET extra_s = 0 WHERE id = {ended}", NOT_THOSE),
    ("UPDATE attempt SET invigilation_id = NULL WHERE id = {ended}", "did not begin under the eyes"),
    ("UPDATE attempt SET invigilation_id = NULL WHERE id = {open}", "did not begin under the eyes"),
    ("UPDATE attempt SET ended_by = NULL WHERE id = {ended}", "tells otherwise who ended it"),
    ("UPDATE attempt SET ended_by = person_id WHERE id = {open}", "tells otherwise who ended it"),
    ("UPDATE incident SET text = 'Nothing.' WHERE kind = 'noted'", "is not what was put on record"),
    ("UPDATE incident SET kind = 'noted'", "is not what was put on record"),
    (
        "UPDATE incident SET noted_by = (SELECT person_id FROM attempt WHERE id = {open})",
        "is not what was put on record",
    ),
    ("DELETE FROM incident WHERE kind = 'noted'", "is on record, and is not there"),
    ("UPDATE extra_time SET percent = 100", "the time set for examinations is not what was put on record"),
    ("UPDATE extra_time SET reason = 'Another.'", "the time set for examinations is not what was put on record"),
    ("UPDATE extra_time SET person_id = set_by", "the time set for examinations is not what was put on record"),
    ("DELETE FROM extra_time", "time set for examinations is on record, and is not there"),
];

async fn person(app: &TestApp, role: Role) -> PersonId {
    people::find_by_email_norm(&app.deeds.db, &address_of(role)).await.expect("the store").expect("a person").id
}

/// A sitting with more time that the trainer ended, and one that goes on.
async fn made(app: &TestApp) -> (AttemptId, AttemptId) {
    load_bank(&app.deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
    let technician = person(app, Role::Technician).await;
    let service_manager = manager(app).await;
    let by = Setter { person: service_manager.person, role: Role::ServiceManager, branch: app.branch };
    let set = set_extra_time(&app.deeds, by, technician, ExtraTime::Percent(25), "Reads slowly.", "a").await;
    assert_eq!(set.expect("the store"), ExtraTimeSet::Done);
    let ended = begin(app, technician, "service-technician").await;
    app.clock.advance(1);
    let other = app.person("Ines Varga", "ines@fennmark.example", Role::Technician).await;
    let open = begin(app, other, "service-technician").await;
    let stored = attempts::by_id_of_anyone(&app.deeds.db, ended).await.expect("the attempt");
    let under = stored.invigilation_id.expect("somebody watches");
    let trainer = Invigilator { person: person(app, Role::Trainer).await, branch: app.branch };
    for (kind, key) in [(IncidentKind::Noted, "b"), (IncidentKind::Ended, "c")] {
        let seen = Seen { under, attempt: ended, kind, text: "A phone on the desk.", key };
        assert_eq!(note_incident(&app.deeds, trainer, seen).await.expect("the store"), Noted::Done);
    }
    (ended, open)
}

#[tokio::test]
async fn tampering_with_what_was_watched_is_found() {
    let once = async |db: Db, url: &str| {
        let app = TestApp::start_on(db, Settings { secure_cookies: false, ..Settings::default() }).await;
        let (ended, open) = made(&app).await;
        let past = unheld(url).await;
        let named = |sql: &str| sql.replace("{ended}", &ended.to_string()).replace("{open}", &open.to_string());
        each_is_found(&past, TAMPERINGS.iter().map(|(sql, says)| (named(sql), *says))).await;
        // What the law may ask for leaves the rest bound.
        let blanked = after(&past, "UPDATE extra_time SET reason = '', salt = ''", &[]).await;
        assert!(blanked.is_whole(), "{blanked:?}");
        past.close().await.expect("closed");
        app.stop().await;
    };
    on_each_with_address(once).await;
}
