//! Lists and reports: the matrix, a history, debriefs that wait, misconceptions.

use super::sample::{MORNING, new_person, sit, technician};
use crate::support::database::for_each_database;
use sea_orm::ConnectionTrait as _;
use sootmark::domain::certification::decision::Verdict;
use sootmark::domain::certification::proposal::{Proposal, Proposes};
use sootmark::domain::people::Role;
use sootmark::store::{
    AttemptId, Db, PersonId, RecordEntryId, StoreError,
    attempts::{self, AttemptResult, Grade},
    branches, certificates, conflict, debriefs, decisions, people,
    proposals::{self, NewProposal},
    qualifications::{self, NewQualification, QualificationOutcome},
    read::{self, matrix::MatrixFilter},
    record, write,
};
use std::time::{Duration, Instant};

/// Sits, hands in, and decides about each competence.
async fn decide(db: &Db, person: PersonId, decisions: &[(&str, QualificationOutcome)]) -> AttemptId {
    let competences: Vec<&str> = decisions.iter().map(|(competence, _)| *competence).collect();
    let attempt = sit(db, person, &competences).await;
    write(db, async |tx| {
        attempts::mark_submitted(tx, person, attempt, Some("k"), MORNING.plus_seconds(600)).await?;
        let entry = record::NewEntry {
            at: MORNING,
            actor_id: Some(person),
            deed: "attempt_graded".to_owned(),
            subject_kind: "attempt".to_owned(),
            subject_id: Some(attempt.0),
            detail: serde_json::json!({}),
        };
        let record_entry_id = record::append(tx, entry).await?;
        for (competence, outcome) in decisions {
            let refused = *outcome == QualificationOutcome::Refused;
            let new = NewQualification {
                person_id: person,
                competence_key: (*competence).to_owned(),
                attempt_id: attempt,
                outcome: *outcome,
                safety_miss: refused && *competence == "fire",
                reason: "decided in a test".to_owned(),
                valid_from: MORNING,
                valid_until: (!refused).then(|| MORNING.plus_seconds(86_400)),
                scheme_key: "first-day".to_owned(),
                scheme_version: 1,
                record_entry_id,
            };
            qualifications::append(tx, new).await?;
        }
        if decisions.iter().any(|(_, outcome)| *outcome == QualificationOutcome::Qualified) {
            certified(tx, person, attempt, record_entry_id).await?;
        }
        Ok::<_, StoreError>(attempt)
    })
    .await
    .unwrap()
}

/// The certificate that an attempt led to.
async fn certified(
    tx: &impl sea_orm::ConnectionTrait,
    person: PersonId,
    attempt: AttemptId,
    record_entry_id: RecordEntryId,
) -> Result<(), StoreError> {
    let proposal = Proposal { proposes: Proposes::Grant, safety_miss: false, grounds: Vec::new() };
    let new = NewProposal { record_entry_id, ..super::certification::proposed(person, attempt, proposal) };
    let id = proposals::append(tx, new.clone()).await?;
    decisions::insert(tx, super::certification::decision(&new, id, Verdict::Granted, "")).await?;
    certificates::issue(tx, super::certification::certificate_for(id, new)).await?;
    Ok(())
}

use QualificationOutcome::{Qualified, Refused};

#[tokio::test]
async fn the_matrix_tells_suspended_from_never_held() {
    for_each_database(async |db: Db| {
        let (coldbrook, ines) = technician(&db).await;
        let saltmarsh = branches::insert(&db, "Saltmarsh", "Europe/Dublin").await.unwrap();
        let tomas = new_person(saltmarsh, "Tomas Reyk", "tomas@fennmark.example", Role::Technician);
        let tomas = people::insert(&db, tomas).await.unwrap();
        let gone = new_person(saltmarsh, "Gone Away", "gone@fennmark.example", Role::Technician);
        let gone = people::insert(&db, gone).await.unwrap();
        people::set_active(&db, gone, false).await.unwrap();
        decide(&db, ines, &[("fire", Qualified), ("lamps", Qualified)]).await;
        decide(&db, ines, &[("fire", Refused)]).await;
        decide(&db, ines, &[("fire", Refused), ("bands", Refused)]).await;
        decide(&db, tomas, &[("fire", Refused)]).await;
        decide(&db, tomas, &[("fire", Qualified)]).await;

        let rows = read::matrix::matrix(&db, &MatrixFilter::default()).await.unwrap();
        assert_eq!(rows.iter().map(|row| row.person_id).collect::<Vec<_>>(), [ines, tomas]);
        let outcomes = |row: usize, competence: &str| {
            let entries = rows[row].cells[competence].iter();
            entries.map(|found| found.entry.outcome).collect::<Vec<_>>()
        };
        let letter = |row: usize, competence: &str| {
            let row = &rows[row];
            qualifications::standing(&row.cells[competence], &row.certification, competence, MORNING).letter()
        };
        assert_eq!(outcomes(0, "fire"), [Qualified, Refused, Refused], "all since the last pass, oldest first");
        assert_eq!(outcomes(0, "bands"), [Refused], "never held");
        assert_eq!(outcomes(0, "lamps"), [Qualified]);
        assert_eq!(outcomes(1, "fire"), [Qualified], "an old refusal does not count");
        assert_eq!(
            ["fire", "bands", "lamps"].map(|competence| letter(0, competence)),
            ['S', 'M', 'E'],
            "they end tomorrow"
        );
        assert_eq!(letter(1, "fire"), 'E');

        let fire = MatrixFilter { branch: Some(coldbrook), competence: Some("fire".to_owned()), whole: false };
        let rows = read::matrix::matrix(&db, &fire).await.unwrap();
        assert_eq!(rows.len(), 1);
        assert_eq!(rows[0].cells.keys().collect::<Vec<_>>(), ["fire"]);
    })
    .await;
}

#[tokio::test]
async fn an_attempt_decides_once_and_the_database_refuses_to_change_it() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let attempt = decide(&db, ines, &[("fire", Refused)]).await;
        let decided = qualifications::of_attempt(&db, attempt).await.unwrap();
        let again = qualifications::append(&db, decided[0].entry.clone()).await;
        assert!(matches!(again, Err(StoreError::Conflict(name)) if name == conflict::DECIDED));
        for forbidden in ["UPDATE qualification SET outcome = 'qualified'", "DELETE FROM qualification"] {
            let refused = db.execute_unprepared(forbidden).await.map_err(StoreError::from);
            assert!(matches!(&refused, Err(StoreError::Corrupt(why)) if why.contains("append only")), "{refused:?}");
        }
    })
    .await;
}

#[tokio::test]
async fn a_safety_miss_waits_for_its_debrief() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let trainer = new_person(branch, "Ulf Brandt", "ulf@fennmark.example", Role::Trainer);
        let ulf = people::insert(&db, trainer).await.unwrap();
        decide(&db, ines, &[("lamps", Refused)]).await;
        let attempt = decide(&db, ines, &[("fire", Refused)]).await;
        let result = AttemptResult { score: 0.5, passed: false, outcome: "{}".to_owned(), graded_at: MORNING };
        attempts::store_grades_and_result(&db, attempt, &[], Some(&result)).await.unwrap();
        let awaited = read::debriefs::awaited(&db, Some(branch)).await.unwrap();
        assert_eq!(awaited.iter().map(|one| one.attempt_id).collect::<Vec<_>>(), [attempt]);
        assert_eq!((&*awaited[0].display_name, awaited[0].submitted_at), ("Ines Varga", MORNING.plus_seconds(600)));

        let debrief = debriefs::Debrief {
            attempt_id: attempt,
            trainer_id: ulf,
            note: "Straw burns.".to_owned(),
            held_at: MORNING,
        };
        debriefs::insert(&db, debrief.clone()).await.unwrap();
        let twice = debriefs::insert(&db, debrief.clone()).await;
        assert!(matches!(twice, Err(StoreError::Conflict(name)) if name == conflict::DEBRIEF));
        assert!(read::debriefs::awaited(&db, None).await.unwrap().is_empty());
        assert_eq!(debriefs::find_of_attempt(&db, attempt).await.unwrap(), Some(debrief.clone()));

        let history = read::history::of_person(&db, ines).await.unwrap();
        assert_eq!((history.attempts.len(), history.qualifications.len()), (2, 2));
        assert_eq!(history.attempts[0].debrief, Some(debrief));
        assert_eq!(history.attempts[0].result, Some(result));
        assert_eq!(history.attempts[1].result, None);
    })
    .await;
}

#[tokio::test]
async fn misconceptions_are_counted_by_answer_and_by_person() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let tomas = new_person(branch, "Tomas Reyk", "tomas@fennmark.example", Role::Technician);
        let tomas = people::insert(&db, tomas).await.unwrap();
        for person in [ines, tomas] {
            let attempt = sit(&db, person, &["lamps", "fire", "bands"]).await;
            let grade = |position, shown: &[&str]| Grade {
                position,
                correct: shown.is_empty(),
                points: 0.0,
                misconceptions: shown.iter().map(|one| (*one).to_owned()).collect(),
            };
            let shown: &[&str] = if person == ines { &["idle_cleans"] } else { &[] };
            let grades = [grade(1, shown), grade(2, &["soot_is_ash", "idle_cleans"]), grade(3, &[])];
            attempts::store_grades_and_result(&db, attempt, &grades, None).await.unwrap();
        }
        let counts = read::misconceptions::counts(&db, MORNING, Some(branch)).await.unwrap();
        let counts: Vec<_> = counts.iter().map(|one| (&*one.misconception, one.answers, one.people)).collect();
        assert_eq!(counts, [("idle_cleans", 3, 2), ("soot_is_ash", 2, 2)]);
        assert!(read::misconceptions::counts(&db, MORNING.plus_seconds(1), None).await.unwrap().is_empty());
    })
    .await;
}

/// 2000 people with 11 competences, every fourth refused after it: one row of the matrix each, in two queries.
#[tokio::test]
async fn the_matrix_of_two_thousand_people_comes_at_once() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let attempt = decide(&db, ines, &[("fire", Qualified)]).await;
        let entry = qualifications::of_attempt(&db, attempt).await.unwrap()[0].entry.record_entry_id;
        // Bulk rows straight in SQL: what is measured is reading them.
        let numbers = "WITH RECURSIVE n(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < 2000)";
        let truth = if db.get_database_backend() == sea_orm::DbBackend::Postgres { ("true", "false") } else { ("1", "0") };
        let sql = format!(
            "INSERT INTO person (branch_id, email, email_norm, display_name, name_norm, role, temperature_unit, active, created_at)
               {numbers} SELECT {branch}, 'p' || n, 'p' || n, 'P' || n, 'p' || n, 'technician', 'celsius', {yes}, 0 FROM n;
             INSERT INTO attempt (person_id, kind, scheme_key, scheme_version, seed, temperature_unit, state, started_at, submitted_at)
               SELECT p.id, 'examination', 's' || s.s, 1, (SELECT seed FROM attempt WHERE id = {attempt}), 'celsius', 'submitted', 0, 1
               FROM person p CROSS JOIN (SELECT 1 AS s UNION ALL SELECT 2) s WHERE p.id <> {ines} AND (s.s = 1 OR p.id % 4 = 0);
             INSERT INTO qualification (person_id, competence_key, attempt_id, outcome, safety_miss, reason, valid_from, scheme_key, scheme_version, record_entry_id)
               SELECT a.person_id, 'c' || c.n, a.id, CASE a.scheme_key WHEN 's1' THEN 'qualified' ELSE 'refused' END, {no}, '', 0, a.scheme_key, 1, {entry}
               FROM attempt a CROSS JOIN ({numbers} SELECT n FROM n WHERE n <= 11) c WHERE a.id <> {attempt}",
            yes = truth.0,
            no = truth.1
        );
        for statement in sql.split(';') {
            db.execute_unprepared(statement).await.unwrap();
        }
        let begun = Instant::now();
        let rows = read::matrix::matrix(&db, &MatrixFilter::default()).await.unwrap();
        let took = begun.elapsed();
        assert_eq!(rows.len(), 2001);
        assert_eq!(rows.iter().map(|row| row.cells.len()).sum::<usize>(), 22_001);
        // Every fourth was refused after having passed: both entries are there.
        for row in rows.iter().filter(|row| row.person_id != ines) {
            let entries = if row.person_id.0 % 4 == 0 { 2 } else { 1 };
            assert!(row.cells.values().all(|cell| cell.len() == entries), "{row:?}");
        }
        // Generous: an unoptimised build on a busy machine. It would take minutes with a query for each person.
        assert!(took < Duration::from_secs(10), "took {took:?}");
        eprintln!("matrix of 2001 people, 22 001 cells: {took:?}");
    })
    .await;
}
