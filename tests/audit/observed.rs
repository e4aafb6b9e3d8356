//! Whoever changes an observation, a step, a signature or its result: the check finds it.

use super::tamper::{each_is_found, on_each_with_address, unheld};
use crate::support::app::TestApp;
use crate::support::observed::{assessor, mark_all, open, watched};
use sootmark::actions::load_bank::load_bank;
use sootmark::bank_files;
use sootmark::config::Settings;
use sootmark::domain::examination::observation::Task;
use sootmark::domain::people::Role;
use sootmark::store::Db;

const OPENED: &str = "is not what was put on record when it was opened";
const SIGNED: &str = "are not those that were put on record when it was signed";

/// A tampering, and words that the report then has. Observation 1 was not passed, 2 was, 3 is open.
const TAMPERINGS: [(&str, &str); 16] = [
    ("UPDATE observation SET person_id = (SELECT max(id) FROM person) WHERE id = 1", OPENED),
    ("UPDATE observation SET assessor_id = (SELECT max(id) FROM person) WHERE id = 1", OPENED),
    ("UPDATE observation SET task = 'daily-check' WHERE id = 1", OPENED),
    ("UPDATE observation SET machine_version = machine_version + 1 WHERE id = 3", OPENED),
    ("UPDATE observation SET checklist = replace(checklist, 'true', 'false') WHERE id = 3", OPENED),
    ("UPDATE observation SET opened_at = opened_at + 1 WHERE id = 3", OPENED),
    ("UPDATE observation_step SET mark = 'seen' WHERE observation_id = 1", SIGNED),
    ("UPDATE observation_step SET remark = 'Well done.' WHERE observation_id = 2 AND position = 1", SIGNED),
    ("UPDATE observation_step SET saved_at = saved_at - 1 WHERE observation_id = 2 AND position = 1", SIGNED),
    ("DELETE FROM observation_step WHERE observation_id = 2 AND position = 1", SIGNED),
    ("UPDATE observation_result SET signed_at = signed_at + 1 WHERE observation_id = 2", SIGNED),
    ("UPDATE observation_result SET missed_critical = 0 WHERE observation_id = 1", "its result does not read back"),
    (
        "UPDATE observation_result SET missed_critical = 0, outcome = '{\"passed\":false,\"missed_critical\":[],\
         \"missed\":[],\"left_out\":[]}' WHERE observation_id = 1",
        SIGNED,
    ),
    ("DELETE FROM observation_result WHERE observation_id = 1", "it is on record as signed, and is open"),
    (
        "INSERT INTO observation_result (observation_id, passed, missed_critical, outcome, signed_at, record_entry_id) \
         SELECT 3, passed, 0, outcome, signed_at, record_entry_id FROM observation_result WHERE observation_id = 2",
        "its signing is not on record once",
    ),
    ("DELETE FROM observation WHERE id = 3", "observation 3: it is on record, and is not there"),
];

#[tokio::test]
async fn tampering_with_what_was_seen_at_a_machine_is_found() {
    let once = async |db: Db, url: &str| {
        let app = TestApp::start_on(db, Settings { secure_cookies: false, ..Settings::default() }).await;
        load_bank(&app.deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
        let (by, person) = (assessor(&app, Role::Trainer).await, assessor(&app, Role::Technician).await.person);
        assert!(!watched(&app, by, person, Task::StopAndCall, &[1]).await);
        app.clock.advance(1);
        assert!(watched(&app, by, person, Task::StopAndCall, &[]).await);
        let third = open(&app, by, person, Task::ParkedRegeneration).await;
        mark_all(&app, by, third, &[]).await;
        assert_eq!(third.0, 3);
        let past = unheld(url).await;
        each_is_found(&past, TAMPERINGS.iter().map(|(sql, says)| ((*sql).to_owned(), *says))).await;
        past.close().await.expect("closed");
        app.stop().await;
    };
    on_each_with_address(once).await;
}
