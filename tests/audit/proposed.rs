//! Whoever changes what was proposed after an examination, or a certificate beside its entry of the record: the check finds it.

use super::tamper::{after, each_is_found, on_each_with_address, unheld};
use crate::support::app::TestApp;
use crate::support::sittings::{Sat, grant, sit};
use sootmark::actions::load_bank::load_bank;
use sootmark::bank_files;
use sootmark::config::Settings;
use sootmark::domain::people::Role;
use sootmark::store::{AttemptId, Db, record};

const NOT_ON_RECORD: &str = "it is not what was put on record";
const NO_MACHINES: &str = "a proposal on it is not what it leads to: machines";
const NOT_PROPOSED: &str = "a proposal on it is not what it leads to: what is proposed and why";
const GONE: &str = "nothing is proposed after it any more";

/// A tampering, and words that the report then has. `{waits}` waits for its decision and has passed, `{asks}` is by a scheme that asks
/// for practical tasks which nobody has seen, `{missed}` missed a safety question, `{anew}` was proposed anew because of one
/// missed since, `{granted}` was granted.
const PROPOSALS: [(&str, &str); 29] = [
    (
        "UPDATE proposal SET machines = '[{\"machine\":\"no-such-machine\",\"version\":1}]' WHERE attempt_id = {waits}",
        NO_MACHINES,
    ),
    (
        "UPDATE proposal SET machines = replace(machines, ']', ',{\"machine\":\"zz\",\"version\":1}]') WHERE attempt_id = {waits}",
        NO_MACHINES,
    ),
    ("UPDATE proposal SET machines = replace(machines, ':1}', ':7}') WHERE attempt_id = {waits}", NO_MACHINES),
    ("UPDATE proposal SET machines = '[]' WHERE attempt_id = {waits}", NO_MACHINES),
    (
        "UPDATE proposal SET machines = '[]' WHERE id = (SELECT max(id) FROM proposal WHERE attempt_id = {anew})",
        NO_MACHINES,
    ),
    ("UPDATE proposal SET machines = '[]' WHERE attempt_id = {granted}", NO_MACHINES),
    (
        "UPDATE proposal SET proposes = 'refuse', grounds = '[{\"against\":\"practical\",\"task\":\"daily-check\"}]'
           WHERE attempt_id = {waits}",
        NOT_PROPOSED,
    ),
    (
        "UPDATE proposal SET proposes = 'refuse', grounds = '[{\"against\":\"prerequisite\",\"scheme\":\"operator\"}]'
           WHERE attempt_id = {waits}",
        NOT_PROPOSED,
    ),
    (
        "UPDATE proposal SET proposes = 'refuse', grounds = '[{\"against\":\"safety_miss\",\"positions\":[1]}]',
           safety_miss = NOT safety_miss WHERE attempt_id = {waits}",
        NOT_PROPOSED,
    ),
    ("UPDATE proposal SET proposes = 'refuse' WHERE attempt_id = {waits}", NOT_PROPOSED),
    ("UPDATE proposal SET proposes = 'grant' WHERE attempt_id = {asks}", NOT_PROPOSED),
    (
        "UPDATE proposal SET proposes = 'grant', grounds = '[]' WHERE attempt_id = {asks}",
        "its first proposal is not what was put on record: proposal",
    ),
    (
        "UPDATE proposal SET grounds = '[{\"against\":\"practical\",\"task\":\"daily-check\"}]' WHERE attempt_id = {asks}",
        "its first proposal is not what was put on record: proposal",
    ),
    (
        "UPDATE proposal SET proposes = 'grant', grounds = '[]', safety_miss = NOT safety_miss WHERE attempt_id = {missed}",
        NOT_PROPOSED,
    ),
    ("UPDATE proposal SET safety_miss = NOT safety_miss WHERE attempt_id = {missed}", NOT_PROPOSED),
    ("UPDATE proposal SET grounds = replace(grounds, '100', '90') WHERE attempt_id = {missed}", NOT_PROPOSED),
    ("UPDATE proposal SET competences = '[]' WHERE attempt_id = {waits}", "it leads to: competences"),
    ("UPDATE proposal SET examined_at = examined_at + 86400000000 WHERE attempt_id = {waits}", "it leads to: moment of grading"),
    ("UPDATE proposal SET valid_until = valid_until + 1 WHERE attempt_id = {waits}", "it leads to: end"),
    ("UPDATE proposal SET made_at = made_at - 1 WHERE attempt_id = {waits}", "it leads to: moment"),
    ("UPDATE proposal SET scheme_key = 'operator' WHERE attempt_id = {waits}", "it leads to: scheme"),
    ("UPDATE proposal SET scheme_version = 7 WHERE attempt_id = {waits}", "it leads to: scheme"),
    (
        "UPDATE proposal SET person_id = (SELECT person_id FROM attempt WHERE id = {missed}) WHERE attempt_id = {waits}",
        "it leads to: person",
    ),
    ("UPDATE proposal SET record_entry_id = record_entry_id - 1 WHERE attempt_id = {waits}", "it leads to: entry of the record"),
    ("DELETE FROM proposal WHERE attempt_id = {waits}", GONE),
    ("DELETE FROM proposal WHERE attempt_id = {missed}", GONE),
    ("UPDATE proposal SET attempt_id = 900000 WHERE attempt_id = {waits}", "it is said to have led to a proposal"),
    (
        "INSERT INTO proposal (attempt_id, person_id, scheme_key, scheme_version, proposes, safety_miss, grounds, competences,
           machines, examined_at, valid_until, made_at, record_entry_id)
         SELECT attempt_id, person_id, scheme_key, scheme_version, proposes, safety_miss, grounds, competences, machines,
           examined_at, valid_until, made_at, record_entry_id FROM proposal WHERE attempt_id = {waits}",
        NOT_ON_RECORD,
    ),
    (
        "INSERT INTO decision (attempt_id, proposal_id, proposes, outcome, reason, decided_by, decided_at, key, record_entry_id)
         SELECT attempt_id, id, proposes, 'granted', 'Granted by rule, before service managers decided.', NULL, made_at, '',
           record_entry_id FROM proposal WHERE attempt_id = {waits}",
        "it is said to have been granted by rule, and was not",
    ),
];

/// The same for what was proposed anew, and for what rests on a proposal.
const LATER: [(&str, &str); 14] = [
    (
        "DELETE FROM proposal WHERE id = (SELECT max(id) FROM proposal WHERE attempt_id = {anew})",
        "\"certification proposed\" is on record",
    ),
    (
        "DELETE FROM proposal WHERE id = (SELECT min(id) FROM proposal WHERE attempt_id = {anew})",
        "it leads to: moment, entry of the record",
    ),
    (
        "UPDATE proposal SET made_at = made_at + 1 WHERE id = (SELECT max(id) FROM proposal WHERE attempt_id = {anew})",
        NOT_ON_RECORD,
    ),
    (
        "UPDATE proposal SET grounds = replace(grounds, 'fire', 'lamps')
           WHERE id = (SELECT max(id) FROM proposal WHERE attempt_id = {anew})",
        NOT_ON_RECORD,
    ),
    (
        "UPDATE proposal SET record_entry_id = (SELECT record_entry_id FROM proposal WHERE attempt_id = {waits})
           WHERE id = (SELECT max(id) FROM proposal WHERE attempt_id = {anew})",
        NOT_ON_RECORD,
    ),
    ("UPDATE decision SET proposal_id = proposal_id - 1", "about another proposal than the last"),
    ("UPDATE certificate SET examined_at = examined_at + 8640000000000", "is not what was proposed: moment of grading"),
    ("UPDATE certificate SET examined_at = examined_at + 1", "is not what was proposed: moment of grading"),
    ("UPDATE certificate SET year = year + 1", "is not what was proposed: year of its number"),
    ("UPDATE certificate SET proposal_id = proposal_id - 1", "is not what was proposed: proposal"),
    ("UPDATE certificate SET person_id = person_id - 1", "is not what was proposed: person"),
    ("UPDATE certificate SET scheme_key = 'operator'", "is not what was proposed: scheme"),
    ("UPDATE certificate SET valid_until = valid_until + 1", "is not what was proposed: end"),
    ("UPDATE certificate_machine SET machine_version = machine_version + 1", "is not what was proposed: machines"),
];

/// Sittings of every fate that a proposal can have, by the name that the tamperings call them.
async fn made(app: &TestApp) -> [(&'static str, AttemptId); 5] {
    load_bank(&app.deeds, bank_files::embedded(), Vec::new(), 0).await.expect("the bank");
    let person = async |name: &str, email: &str| app.person(name, email, Role::Technician).await;
    let waits = sit(app, person("Ines Varga", "ines@fennmark.example").await, "first-day", Sat::Right).await;
    let asks = sit(app, person("Piet Hallam", "piet@fennmark.example").await, "operator", Sat::Right).await;
    let owen = person("Owen Lisle", "owen@fennmark.example").await;
    let anew = sit(app, owen, "first-day", Sat::Right).await;
    app.clock.advance(60);
    let missed = sit(app, owen, "operator", Sat::MissingFire).await;
    let granted = sit(app, person("Mara Tindle", "mara@fennmark.example").await, "first-day", Sat::Right).await;
    app.clock.advance(60);
    grant(app, granted).await;
    [("{waits}", waits), ("{asks}", asks), ("{anew}", anew), ("{missed}", missed), ("{granted}", granted)]
}

async fn all_are_found(tamperings: &[(&str, &'static str)]) {
    let once = async |db: Db, url: &str| {
        let app = TestApp::start_on(db, Settings { secure_cookies: false, ..Settings::default() }).await;
        let sittings = made(&app).await;
        let named = |sql: &str| {
            sittings.iter().fold(sql.to_owned(), |sql, (name, sitting)| sql.replace(name, &sitting.to_string()))
        };
        let past = unheld(url).await;
        each_is_found(&past, tamperings.iter().map(|(sql, says)| (named(sql), *says))).await;
        past.close().await.expect("closed");
        app.stop().await;
    };
    on_each_with_address(once).await;
}

#[tokio::test]
async fn tampering_with_proposals_is_found() {
    all_are_found(&PROPOSALS).await;
}

#[tokio::test]
async fn tampering_with_what_was_proposed_anew_and_with_what_rests_on_a_proposal_is_found() {
    all_are_found(&LATER).await;
}

/// Makes `{granted}` what the step that brought proposals made of a pass that had been granted at once. `{told}` is what its
/// entry of the record told then; that this breaks the chain is no matter here.
const BY_RULE: &str =
    "UPDATE record_entry SET detail = '{told}' WHERE deed = 'examination_graded' AND subject_id = {granted};
  DELETE FROM record_entry WHERE deed IN ('certification_decided', 'certificate_granted');
  UPDATE proposal SET competences = '[]', machines = '[]' WHERE attempt_id = {granted};
  UPDATE decision SET reason = 'Granted by rule, before service managers decided.', decided_by = NULL,
    decided_at = (SELECT made_at FROM proposal WHERE attempt_id = {granted}),
    record_entry_id = (SELECT record_entry_id FROM proposal WHERE attempt_id = {granted});
  UPDATE certificate SET valid_from = examined_at,
    record_entry_id = (SELECT record_entry_id FROM proposal WHERE attempt_id = {granted});
  UPDATE qualification SET valid_from = (SELECT valid_from FROM certificate),
    record_entry_id = (SELECT record_entry_id FROM certificate) WHERE attempt_id = {granted};
  DELETE FROM certificate_machine;
  INSERT INTO certificate_machine (certificate_id, machine_key, machine_version)
    SELECT c.id, a.machine_key, max(a.machine_version)
    FROM certificate c JOIN attempt_question a ON a.attempt_id = c.attempt_id GROUP BY c.id, a.machine_key;";

/// A tampering with that.
const WITH_BY_RULE: [(&str, &str); 6] = [
    ("UPDATE certificate SET examined_at = examined_at + 8640000000000", "is not what was proposed: moment of grading"),
    ("UPDATE certificate_machine SET machine_version = 7", "is not what was proposed: machines"),
    ("UPDATE decision SET reason = 'By me.'", "it is said to have been granted by rule, and was not"),
    ("UPDATE decision SET decided_at = decided_at + 1", "it is said to have been granted by rule, and was not"),
    ("UPDATE proposal SET examined_at = examined_at - 1 WHERE attempt_id = {granted}", "moment of grading"),
    ("DELETE FROM proposal WHERE attempt_id = {granted}", GONE),
];

#[tokio::test]
async fn what_an_older_release_granted_by_rule_fits_and_is_held_against_the_sitting() {
    let once = async |db: Db, url: &str| {
        let app = TestApp::start_on(db.clone(), Settings { secure_cookies: false, ..Settings::default() }).await;
        let sittings = made(&app).await;
        let granted = sittings.last().expect("a sitting").1;
        let about = record::of_subject(&db, "attempt", granted.0).await.expect("the entries");
        let graded = about.iter().find(|entry| entry.deed == "examination_graded").expect("its grading");
        let mut told: serde_json::Value = serde_json::from_str(&graded.detail).expect("JSON");
        for newer in ["making", "sha256"] {
            told.as_object_mut().expect("an object").remove(newer).expect(newer);
        }
        let named = |sql: &str| sql.replace("{granted}", &granted.to_string()).replace("{told}", &told.to_string());
        let past = unheld(url).await;
        let found = after(&past, &named(BY_RULE), &[]).await;
        assert_eq!((found.faults, found.not_bound), (Vec::new(), 1));
        for (sql, says) in WITH_BY_RULE {
            let found = after(&past, &named(&format!("{BY_RULE}{sql}")), &[]).await;
            let report = found.faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
            assert!(report.contains(says), "{sql}\nfinds {report}\nand not {says:?}");
        }
        past.close().await.expect("closed");
        app.stop().await;
    };
    on_each_with_address(once).await;
}
