//! Whoever has the database in hand, without its triggers, and changes, deletes, swaps, puts in or cuts off rows of any
//! kind: the check finds it.

use super::Fates;
use crate::support::database::{PostgresDatabase, SqliteDatabase};
use sea_orm::{
    ConnectOptions, ConnectionTrait, Database, DatabaseConnection, DatabaseTransaction, DbBackend, Statement,
    TransactionTrait,
};
use sha2::{Digest as _, Sha256};
use sootmark::actions::check_record::{RecordChecked, check_record};
use sootmark::store::record::Verification;
use sootmark::store::{AttemptId, Db};

/// A tampering: its SQL, in which `{passed}`, `{failed}`, `{expired}` and `{open}` are the numbers of attempts, and words
/// that the report then has.
type Tampering = (&'static str, &'static str);

const RECORD: [Tampering; 10] = [
    (
        "UPDATE record_entry SET detail = replace(detail, 'false', 'true') WHERE deed = 'examination_graded'
           AND subject_id = {failed}",
        "Changed",
    ),
    ("UPDATE record_entry SET actor_id = NULL WHERE deed = 'debrief_held'", "Changed"),
    ("UPDATE record_entry SET at = at - 86400000000 WHERE deed = 'examination_graded' AND subject_id = {passed}", "Changed"),
    ("UPDATE record_entry SET hash = prev_hash || 'x' WHERE deed = 'debrief_held'", "Changed"),
    ("DELETE FROM record_entry WHERE deed = 'examination_graded' AND subject_id = {failed}", "DoesNotFollow"),
    (
        "UPDATE record_entry SET id = 900000 WHERE deed = 'debrief_held';
         UPDATE record_entry SET id = 900001 WHERE deed = 'examination_graded' AND subject_id = {passed}",
        "DoesNotFollow",
    ),
    (
        "INSERT INTO record_entry (at, actor_id, deed, subject_kind, subject_id, detail, prev_hash, hash)
           SELECT at, actor_id, deed, subject_kind, {open}, detail, 'x', 'y' FROM record_entry WHERE deed = 'debrief_held'",
        "DoesNotFollow",
    ),
    ("DELETE FROM record_entry WHERE id = (SELECT max(id) FROM record_entry)", "CutShort"),
    ("UPDATE record_head SET entries = entries - 1", "CutShort"),
    ("UPDATE record_head SET hash = (SELECT min(hash) FROM record_entry WHERE id < (SELECT max(id) FROM record_entry))", "CutShort"),
];

const NOT_THOSE: &str = "are not those that were put on record";

const ATTEMPTS: [Tampering; 22] = [
    ("UPDATE attempt SET seed = (SELECT seed FROM attempt WHERE id = {failed}) WHERE id = {passed}", NOT_THOSE),
    ("UPDATE attempt SET person_id = (SELECT person_id FROM attempt WHERE id = {passed}) WHERE id = {failed}", NOT_THOSE),
    ("UPDATE attempt SET submitted_at = submitted_at - 1 WHERE id = {expired}", NOT_THOSE),
    ("UPDATE attempt SET started_at = started_at - 1 WHERE id = {open}", "did not begin as the record says"),
    ("UPDATE attempt SET state = 'submitted' WHERE id = {expired}", NOT_THOSE),
    ("UPDATE attempt SET state = 'submitted', submitted_at = started_at WHERE id = {open}", "has no result"),
    ("UPDATE attempt SET state = 'open', submitted_at = NULL WHERE id = {failed}", "is on record as graded, and is open"),
    ("DELETE FROM attempt WHERE id = {failed}", "is on record as an examination, and is not there"),
    (
        "UPDATE attempt SET id = 900000 WHERE id = {passed}; UPDATE attempt SET id = {passed} WHERE id = {failed};
         UPDATE attempt SET id = {failed} WHERE id = 900000",
        NOT_THOSE,
    ),
    ("UPDATE attempt_question SET mandatory = NOT mandatory WHERE attempt_id = {failed}", "its column mandatory"),
    ("UPDATE attempt_question SET question = replace(question, 'fire', 'hire') WHERE attempt_id = {failed}", NOT_THOSE),
    ("UPDATE attempt_question SET model_version = 1 WHERE attempt_id = {passed} AND position = 2", "its column model_version"),
    ("DELETE FROM attempt_question WHERE attempt_id = {failed} AND position = 3", "did not begin as the record says"),
    (
        "UPDATE attempt_question SET position = 900 WHERE attempt_id = {passed} AND position = 1;
         UPDATE attempt_question SET position = 1 WHERE attempt_id = {passed} AND position = 2;
         UPDATE attempt_question SET position = 2 WHERE attempt_id = {passed} AND position = 900",
        NOT_THOSE,
    ),
    (
        "INSERT INTO attempt_question (attempt_id, position, template_key, template_version, machine_key, machine_version,
           model_version, competence_key, mandatory, question)
         SELECT attempt_id, 900, template_key, template_version, machine_key, machine_version, model_version,
           competence_key, mandatory, question FROM attempt_question WHERE attempt_id = {passed} AND position = 1",
        "did not begin as the record says",
    ),
    ("UPDATE response SET saved_at = saved_at + 1 WHERE attempt_id = {passed} AND position = 1", NOT_THOSE),
    ("UPDATE response SET revision = 7 WHERE attempt_id = {passed} AND position = 1", NOT_THOSE),
    ("DELETE FROM response WHERE attempt_id = {passed} AND position = 1", "graded again it is not right"),
    (
        "INSERT INTO response (attempt_id, position, answer, saved_at, revision)
           SELECT attempt_id, 2, answer, saved_at, 1 FROM response WHERE attempt_id = {expired}",
        NOT_THOSE,
    ),
    (
        // All in reverse order: two of them alone may be the same answer.
        "UPDATE response SET position = position + 900 WHERE attempt_id = {passed};
         UPDATE response SET position = 910 - position WHERE attempt_id = {passed}",
        NOT_THOSE,
    ),
    (
        "INSERT INTO attempt (person_id, kind, scheme_key, scheme_version, seed, temperature_unit, state, started_at,
           submitted_at)
         SELECT person_id, kind, scheme_key, scheme_version, seed, temperature_unit, state, started_at, submitted_at
           FROM attempt WHERE id = {passed}",
        "its beginning is on record 0 times",
    ),
    ("UPDATE attempt SET scheme_version = 2 WHERE id = {passed}", "is not in the database in version 2"),
];

const WORTH: [Tampering; 21] = [
    ("UPDATE grade SET correct = NOT correct WHERE attempt_id = {failed} AND position = 1", "graded again"),
    ("UPDATE grade SET points = 0.5 WHERE attempt_id = {passed} AND position = 1", "stored as right with 0.5 points"),
    ("UPDATE grade SET misconceptions = '[\"x\"]' WHERE attempt_id = {passed} AND position = 1", "misconceptions x"),
    ("DELETE FROM grade WHERE attempt_id = {passed} AND position = 1", "it has no grade"),
    (
        "INSERT INTO grade (attempt_id, position, correct, points, misconceptions)
           SELECT attempt_id, 900, correct, points, misconceptions FROM grade WHERE attempt_id = {passed} AND position = 1",
        "question 900: it has a grade and is not there",
    ),
    ("UPDATE attempt_result SET passed = NOT passed WHERE attempt_id = {failed}", "the result is stored as passed"),
    ("UPDATE attempt_result SET score = 99.5 WHERE attempt_id = {failed}", "the score is stored as 99.5 %"),
    (
        "UPDATE attempt_result SET outcome = (SELECT outcome FROM attempt_result WHERE attempt_id = {passed})
           WHERE attempt_id = {failed}",
        "not what the grades come to",
    ),
    ("UPDATE attempt_result SET graded_at = graded_at + 1 WHERE attempt_id = {passed}", NOT_THOSE),
    ("DELETE FROM attempt_result WHERE attempt_id = {failed}", "it was handed in and has no result"),
    (
        "INSERT INTO attempt_result (attempt_id, score, passed, outcome, graded_at)
           SELECT {open}, score, passed, outcome, graded_at FROM attempt_result WHERE attempt_id = {passed}",
        "it is open, and has grades, a result or decisions",
    ),
    ("UPDATE qualification SET outcome = 'qualified', safety_miss = NOT safety_miss WHERE attempt_id = {failed}", "is not what its outcome decides: "),
    ("UPDATE qualification SET valid_until = valid_until + 1 WHERE attempt_id = {passed} AND competence_key = 'fire'", "is not what its outcome decides: fire"),
    ("UPDATE qualification SET reason = 'Well done.' WHERE attempt_id = {passed} AND competence_key = 'fire'", "the reason of its decision about fire"),
    (
        "UPDATE qualification SET person_id = (SELECT person_id FROM attempt WHERE id = {open}) WHERE attempt_id = {passed}",
        "names another person",
    ),
    ("DELETE FROM qualification WHERE attempt_id = {failed} AND competence_key = 'fire'", "is not what its outcome decides: fire"),
    (
        "INSERT INTO qualification (person_id, competence_key, attempt_id, outcome, safety_miss, reason, valid_from,
           valid_until, scheme_key, scheme_version, record_entry_id)
         SELECT person_id, 'parked', attempt_id, outcome, safety_miss, reason, valid_from, valid_until, scheme_key,
           scheme_version, record_entry_id FROM qualification WHERE attempt_id = {passed} AND competence_key = 'fire'",
        "is not what its outcome decides: parked",
    ),
    ("UPDATE debrief SET note = 'Nothing was said.'", "the talk about it is not what was put on record"),
    ("DELETE FROM debrief", "a talk about it is on record, and is not there"),
    (
        "INSERT INTO debrief (attempt_id, trainer_id, note, held_at) SELECT {expired}, trainer_id, note, held_at FROM debrief",
        "the talk about it is not what was put on record",
    ),
    ("UPDATE debrief SET trainer_id = (SELECT person_id FROM attempt WHERE id = {open})", "the talk about it is not"),
];

const DOCUMENTS: [Tampering; 5] = [
    (
        "UPDATE bank_document SET source = source || ' ' WHERE kind = 'machine' AND key = 'tarrel-60'",
        "machine tarrel-60 version 1: its text is not the one that its digest was made of",
    ),
    (
        "UPDATE bank_document SET source = 'x', sha256 = '2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881'
           WHERE kind = 'machine' AND key = 'tarrel-60'",
        "machine tarrel-60 version 1: its text is not the one that was put on record",
    ),
    ("DELETE FROM bank_document WHERE kind = 'lesson' AND version = 1", "it is on record, and is not there"),
    ("UPDATE bank_document SET version = 9 WHERE kind = 'machine' AND key = 'tarrel-60'", "another document or version"),
    (
        "INSERT INTO bank_document (kind, key, version, source, sha256, origin, state, created_at)
           SELECT kind, key, 9, source, sha256, origin, state, created_at FROM bank_document WHERE kind = 'competences'",
        "competences competences version 9: its coming is on record 0 times",
    ),
];

/// A connection past the program: it holds to no foreign key.
pub(super) async fn unheld(url: &str) -> DatabaseConnection {
    let mut options = ConnectOptions::new(url);
    options.sqlx_logging(false).max_connections(1).map_sqlx_sqlite_opts(|sqlite| sqlite.foreign_keys(false));
    Database::connect(options).await.expect("the database")
}

/// Tables of which the database refuses to change or delete a row.
const GUARDED: [&str; 15] = [
    "record_entry",
    "qualification",
    "incident",
    "extra_time",
    "proposal",
    "decision",
    "appeal",
    "appeal_decision",
    "certificate",
    "certificate_machine",
    "certificate_event",
    "refresher_trigger",
    "observation",
    "observation_step",
    "observation_result",
];

/// What the check finds after a tampering; afterwards everything is as it was.
pub(super) async fn after(past: &DatabaseConnection, sql: &str, heads: &[String]) -> RecordChecked {
    tampered(past, sql, async |db| check_record(db, heads).await.expect(sql)).await
}

/// What is seen after a tampering; afterwards everything is as it was.
pub(super) async fn tampered<T>(
    past: &DatabaseConnection,
    sql: &str,
    look: impl AsyncFnOnce(&DatabaseTransaction) -> T,
) -> T {
    let transaction = past.begin().await.expect("a transaction");
    let unguarded = GUARDED.map(|table| format!("DROP TRIGGER tr_{table}_update; DROP TRIGGER tr_{table}_delete;"));
    let unguarded = unguarded.concat() + "DROP TRIGGER tr_attempt_terms";
    let unguard = if past.get_database_backend() == DbBackend::Postgres {
        "SET LOCAL session_replication_role = replica"
    } else {
        &unguarded
    };
    transaction.execute_unprepared(unguard).await.expect("the triggers go");
    transaction.execute_unprepared(sql).await.expect(sql);
    let found = look(&transaction).await;
    transaction.rollback().await.expect("undone");
    found
}

fn named(sql: &str, fates: &Fates) -> String {
    let put = |sql: String, name: &str, id: AttemptId| sql.replace(&format!("{{{name}}}"), &id.to_string());
    let sql = put(sql.to_owned(), "passed", fates.passed);
    let sql = put(sql, "failed", fates.failed);
    put(put(sql, "expired", fates.expired), "open", fates.open)
}

async fn on_each_database(test: impl AsyncFn(&Fates, &DatabaseConnection)) {
    let once = async |db: Db, url: &str| {
        let fates = Fates::on(db).await;
        let past = unheld(url).await;
        let whole = check_record(&past, &[]).await.expect("a check");
        assert!(whole.is_whole(), "before: {whole:?}");
        assert_eq!((whole.concluded, whole.not_bound, whole.open, whole.talks), (3, 0, 1, 1));
        assert!(whole.documents > 100 && whole.documents_not_bound == 0, "{whole:?}");
        test(&fates, &past).await;
        past.close().await.expect("closed");
        fates.app.stop().await;
    };
    on_each_with_address(once).await;
}

async fn all_are_found(tamperings: &[Tampering]) {
    on_each_database(async |fates, past| {
        for (sql, says) in tamperings {
            let found = after(past, &named(sql, fates), &[]).await;
            assert!(!found.is_whole(), "nothing was found after {sql}");
            let faults: Vec<String> = found.faults.iter().map(ToString::to_string).collect();
            let report = format!("{:?}\n{}", found.chain, faults.join("\n"));
            assert!(report.contains(says), "{sql}\nfinds {report}\nand not {says:?}");
        }
    })
    .await;
}

#[tokio::test]
async fn tampering_with_the_record_is_found() {
    all_are_found(&RECORD).await;
}

#[tokio::test]
async fn tampering_with_attempts_questions_and_answers_is_found() {
    all_are_found(&ATTEMPTS).await;
}

#[tokio::test]
async fn tampering_with_grades_results_decisions_and_talks_is_found() {
    all_are_found(&WORTH).await;
}

#[tokio::test]
async fn tampering_with_the_question_bank_is_found() {
    all_are_found(&DOCUMENTS).await;
}

/// One who changes an answer, its grade, the result and the decision together so that they agree.
#[tokio::test]
async fn tampering_that_agrees_with_itself_is_found() {
    on_each_database(async |fates, past| {
        // The key of the missed question is made to be what was answered.
        let missed = "SELECT min(position) FROM grade WHERE attempt_id = {failed} AND NOT correct";
        let row = |sql: String| async move {
            let statement = Statement::from_string(past.get_database_backend(), named(&sql, fates));
            past.query_one_raw(statement).await.expect("a query").expect("a row")
        };
        let question =
            format!("SELECT question FROM attempt_question WHERE attempt_id = {{failed}} AND position = ({missed})");
        let question: String = row(question).await.try_get_by_index(0).expect("the question");
        let answer = format!("SELECT answer FROM response WHERE attempt_id = {{failed}} AND position = ({missed})");
        let answer: String = row(answer).await.try_get_by_index(0).expect("the answer");
        let mut forged: serde_json::Value = serde_json::from_str(&question).expect("JSON");
        forged["key"] = serde_json::from_str(&answer).expect("JSON");
        let forged = forged.to_string().replace('\'', "''");
        let sql = format!(
            "UPDATE attempt_question SET question = '{forged}' WHERE attempt_id = {{failed}} AND position = ({missed})"
        );
        let found = after(past, &named(&sql, fates), &[]).await;
        assert!(found.faults.iter().any(|fault| fault.says.contains(NOT_THOSE)), "{found:?}");
        let seen = found.faults.iter().any(|fault| fault.says.contains("graded again it is right"));
        assert!(seen, "the forged key is graded by: {found:?}");
    })
    .await;
}

#[tokio::test]
async fn a_record_cut_short_with_its_end_is_found_by_a_head_kept_elsewhere() {
    on_each_database(async |_, past| {
        let whole = check_record(past, &[]).await.expect("a check");
        let head = vec![whole.head.hash.clone()];
        assert!(check_record(past, &head).await.expect("a check").is_whole());
        let cut = "DELETE FROM record_entry WHERE id = (SELECT max(id) FROM record_entry);
                   UPDATE record_head SET entries = entries - 1,
                     hash = (SELECT hash FROM record_entry WHERE id = (SELECT max(id) FROM record_entry))";
        let without = after(past, cut, &[]).await;
        assert!(matches!(without.chain, Verification::Whole { .. }), "the chain alone does not show it");
        let with = after(past, cut, &head).await;
        assert_eq!(with.chain, Verification::HeadMissing { head: head[0].clone(), entries: whole.head.entries - 1 });
    })
    .await;
}

/// SHA-256 over the fields of an entry, each with its length before it as eight bytes: written down here from what the
/// record's documentation says, so that a forger's chain is whole.
fn hash(prev: &str, at: i64, actor: Option<i64>, deed: &str, kind: &str, subject: Option<i64>, detail: &str) -> String {
    let number = |number: Option<i64>| number.map_or_else(Vec::new, |number| number.to_be_bytes().to_vec());
    let fields: [Vec<u8>; 8] = [
        b"sootmark record entry 1".to_vec(),
        prev.into(),
        at.to_be_bytes().to_vec(),
        number(actor),
        deed.into(),
        kind.into(),
        number(subject),
        detail.into(),
    ];
    let mut all = Sha256::new();
    for field in fields {
        all.update((field.len() as u64).to_be_bytes());
        all.update(field);
    }
    all.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

#[tokio::test]
async fn a_record_written_anew_to_its_end_is_found_by_a_head_kept_elsewhere() {
    on_each_database(async |_, past| {
        let head = vec![check_record(past, &[]).await.expect("a check").head.hash];
        let sql = "SELECT id, at, actor_id, deed, subject_kind, subject_id, detail FROM record_entry ORDER BY id";
        let statement = Statement::from_string(past.get_database_backend(), sql);
        let mut forged = String::new();
        let mut prev = "0".repeat(64);
        for row in past.query_all_raw(statement).await.expect("the entries") {
            let (id, at): (i64, i64) = (row.try_get_by_index(0).expect("id"), row.try_get_by_index(1).expect("at"));
            let actor: Option<i64> = row.try_get_by_index(2).expect("actor");
            let (deed, kind): (String, String) =
                (row.try_get_by_index(3).expect("deed"), row.try_get_by_index(4).expect("kind"));
            let subject: Option<i64> = row.try_get_by_index(5).expect("subject");
            let detail: String = row.try_get_by_index(6).expect("detail");
            // All of it one second earlier.
            let at = at - 1_000_000;
            let own = hash(&prev, at, actor, &deed, &kind, subject, &detail);
            forged.push_str(&format!(
                "UPDATE record_entry SET at = {at}, prev_hash = '{prev}', hash = '{own}' WHERE id = {id};\n"
            ));
            prev = own;
        }
        forged.push_str(&format!("UPDATE record_head SET hash = '{prev}'"));
        let without = after(past, &forged, &[]).await;
        assert!(matches!(without.chain, Verification::Whole { .. }), "the chain alone does not show it: {without:?}");
        let with = after(past, &forged, &head).await;
        assert!(matches!(with.chain, Verification::HeadMissing { .. }), "{with:?}");
    })
    .await;
}

/// Tries each tampering on a database that was whole before: the check names it, and the transaction takes it back.
pub(super) async fn each_is_found(past: &DatabaseConnection, tamperings: impl Iterator<Item = (String, &'static str)>) {
    let whole = check_record(past, &[]).await.expect("a check");
    assert!(whole.is_whole(), "before: {whole:?}");
    for (sql, says) in tamperings {
        let found = after(past, &sql, &[]).await;
        let report = found.faults.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        assert!(report.contains(says), "{sql}\nfinds {report}\nand not {says:?}");
    }
}

/// Runs a test on a fresh SQLite and on a fresh PostgreSQL, each with its address to open it once more.
pub(super) async fn on_each_with_address(once: impl AsyncFn(Db, &str)) {
    let sqlite = SqliteDatabase::fresh().await;
    once(sqlite.db.clone(), &sqlite.url).await;
    sqlite.db.close().await.expect("SQLite closes");
    if let Some(postgres) = PostgresDatabase::fresh().await {
        once(postgres.db.clone(), &postgres.url).await;
        postgres.drop_schema().await;
    }
}
