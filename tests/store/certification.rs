//! Proposals, decisions, appeals, certificates and what becomes of them, on both databases; and what the databases refuse.

use super::sample::{MORNING, new_person, sit, technician};
use crate::support::database::for_each_database;
use sea_orm::ConnectionTrait as _;
use sootmark::domain::certification::certificate::{Event, EventKind, Number, State};
use sootmark::domain::certification::decision::{Finding, Verdict};
use sootmark::domain::certification::proposal::{Ground, Proposal, Proposes};
use sootmark::domain::certification::trigger::{Kind, MachineVersion, Trigger};
use sootmark::domain::people::Role;
use sootmark::domain::units::Moment;
use sootmark::store::certificates::{self, KeptEvent, NewCertificate};
use sootmark::store::decisions::{self, Appeal, AppealDecision, Decision};
use sootmark::store::proposals::{self, NewProposal};
use sootmark::store::qualifications::{self, NewQualification, QualificationOutcome};
use sootmark::store::read::certification::{of_everyone, of_person};
use sootmark::store::read::decisions::lines;
use sootmark::store::triggers::{self, NewTrigger};
use sootmark::store::{
    AttemptId, Db, PersonId, ProposalId, RecordEntryId, StoreError, attempts, conflict, people, record, write,
};

const DAY: i64 = 86_400;

/// A proposal about an attempt; the record entry is the caller's to fill in.
pub(crate) fn proposed(person_id: PersonId, attempt_id: AttemptId, proposal: Proposal) -> NewProposal {
    NewProposal {
        attempt_id,
        person_id,
        scheme_key: "first-day".to_owned(),
        scheme_version: 1,
        proposal,
        competences: vec!["fire".to_owned(), "lamps".to_owned()],
        machines: vec![MachineVersion { machine: "tarrel-60".to_owned(), version: 1 }],
        examined_at: MORNING,
        valid_until: MORNING.plus_seconds(1000 * DAY),
        made_at: MORNING,
        record_entry_id: RecordEntryId(1),
    }
}

/// The certificate that a proposal proposes.
pub(crate) fn certificate_for(id: ProposalId, of: NewProposal) -> NewCertificate {
    NewCertificate {
        attempt_id: of.attempt_id,
        proposal_id: id,
        person_id: of.person_id,
        scheme_key: of.scheme_key,
        scheme_version: of.scheme_version,
        year: 2026,
        examined_at: of.examined_at,
        valid_from: of.made_at,
        valid_until: of.valid_until,
        machines: of.machines,
        record_entry_id: of.record_entry_id,
    }
}

fn grant() -> Proposal {
    Proposal { proposes: Proposes::Grant, safety_miss: false, grounds: Vec::new() }
}

fn refuse() -> Proposal {
    let grounds = vec![Ground::SafetyMiss { positions: vec![2] }];
    Proposal { proposes: Proposes::Refuse, safety_miss: true, grounds }
}

async fn entry(db: &Db) -> RecordEntryId {
    let new = record::NewEntry {
        at: MORNING,
        actor_id: None,
        deed: "a_test".to_owned(),
        subject_kind: "test".to_owned(),
        subject_id: None,
        detail: serde_json::json!({}),
    };
    write::<_, StoreError, _>(db, async |tx| record::append(tx, new).await).await.unwrap()
}

/// A graded attempt with a proposal about it.
async fn about(db: &Db, person: PersonId, proposal: Proposal) -> (AttemptId, ProposalId, NewProposal) {
    let attempt = sit(db, person, &["fire", "lamps"]).await;
    attempts::mark_submitted(db, person, attempt, Some("k"), MORNING).await.unwrap();
    let new = NewProposal { record_entry_id: entry(db).await, ..proposed(person, attempt, proposal) };
    (attempt, proposals::append(db, new.clone()).await.unwrap(), new)
}

/// A decision by nobody on a proposal.
pub(crate) fn decision(of: &NewProposal, id: ProposalId, verdict: Verdict, reason: &str) -> Decision {
    Decision {
        attempt_id: of.attempt_id,
        proposal_id: id,
        proposes: of.proposal.proposes,
        verdict,
        reason: reason.to_owned(),
        decided_by: None,
        decided_at: MORNING,
        key: "k".to_owned(),
        record_entry_id: of.record_entry_id,
    }
}

#[tokio::test]
async fn what_is_kept_reads_back() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let (attempt, id, new) = about(&db, ines, grant()).await;
        assert_eq!(proposals::by_attempt(&db, attempt).await.unwrap().entry, new);
        let waiting = of_person(&db, ines).await.unwrap();
        assert_eq!(waiting.waits_for("fire", MORNING), Some(MORNING));
        assert_eq!(waiting.waits_for("bands", MORNING), None);

        let granted = decision(&new, id, Verdict::Granted, "");
        decisions::insert(&db, granted.clone()).await.unwrap();
        assert_eq!(decisions::find(&db, attempt).await.unwrap(), Some(granted));
        let (certificate, number) = certificates::issue(&db, certificate_for(id, new.clone())).await.unwrap();
        assert_eq!(number, Number { year: 2026, running: 1 });
        let found = certificates::by_number(&db, number).await.unwrap();
        assert_eq!((found.id, &found.entry), (certificate, &certificate_for(id, new)));
        let missing = certificates::by_number(&db, Number { year: 2026, running: 2 }).await;
        assert!(matches!(missing, Err(StoreError::NotFound)));

        let own = of_person(&db, ines).await.unwrap();
        assert_eq!((own.waiting.len(), own.state_of(&found, MORNING)), (0, State::Valid));
        assert_eq!(own.schemes_held(MORNING).into_iter().collect::<Vec<_>>(), ["first-day"]);
        let event = KeptEvent {
            event: Event { kind: EventKind::Suspended, at: MORNING.plus_seconds(DAY) },
            reason: "A look at the log first.".to_owned(),
            done_by: Some(ines),
            record_entry_id: found.entry.record_entry_id,
        };
        certificates::append_event(&db, certificate, event.clone()).await.unwrap();
        let everyone = of_everyone(&db, Some(branch)).await.unwrap();
        assert_eq!(everyone[&ines].certificates[0].events, [event]);
        assert!(of_everyone(&db, Some(sootmark::store::BranchId(999))).await.unwrap().is_empty());
        assert!(everyone[&ines].schemes_held(MORNING.plus_seconds(2 * DAY)).is_empty());
    })
    .await;
}

#[tokio::test]
async fn a_refusal_an_appeal_and_its_end_are_each_kept_once() {
    for_each_database(async |db: Db| {
        let (branch, ines) = technician(&db).await;
        let tom = people::insert(&db, new_person(branch, "Tom", "tom@fennmark.example", Role::ServiceManager)).await;
        let tom = tom.unwrap();
        let (attempt, id, new) = about(&db, ines, refuse()).await;
        decisions::insert(&db, decision(&new, id, Verdict::Refused, "")).await.unwrap();
        let twice = decisions::insert(&db, decision(&new, id, Verdict::Refused, "")).await;
        assert!(matches!(&twice, Err(StoreError::Conflict(name)) if name == conflict::DECISION), "{twice:?}");

        let entry = new.record_entry_id;
        let appeal = Appeal { attempt_id: attempt, text: "No.".into(), lodged_at: MORNING, record_entry_id: entry };
        decisions::lodge(&db, appeal.clone()).await.unwrap();
        let twice = decisions::lodge(&db, appeal.clone()).await;
        assert!(matches!(&twice, Err(StoreError::Conflict(name)) if name == conflict::APPEAL), "{twice:?}");
        assert_eq!(decisions::find_appeal(&db, attempt).await.unwrap(), Some(appeal));

        let heard = AppealDecision {
            attempt_id: attempt,
            finding: Finding::Dismissed,
            reason: "It was wrong.".into(),
            decided_by: tom,
            decided_at: MORNING,
            record_entry_id: entry,
        };
        decisions::insert_appeal_decision(&db, heard.clone()).await.unwrap();
        let twice = decisions::insert_appeal_decision(&db, heard.clone()).await;
        assert!(matches!(&twice, Err(StoreError::Conflict(name)) if name == conflict::APPEAL_DECISION), "{twice:?}");
        assert_eq!(decisions::find_appeal_decision(&db, attempt).await.unwrap(), Some(heard));

        let all = lines(&db, Some(ines)).await.unwrap();
        assert_eq!(all.len(), 1);
        assert_eq!(all[0].decided, Some((Verdict::Refused, MORNING)));
        assert_eq!((all[0].finding, all[0].superseded), (Some(Finding::Dismissed), false));
        // A later sitting takes the place of the one before.
        about(&db, ines, grant()).await;
        let all = lines(&db, None).await.unwrap();
        assert_eq!(all.iter().map(|line| line.superseded).collect::<Vec<_>>(), [false, true]);
        assert!(proposals::is_superseded(&db, &new).await.unwrap());
    })
    .await;
}

#[tokio::test]
async fn the_database_itself_lets_no_safety_miss_be_granted() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        // A proposal to grant in spite of the miss.
        let wrong = Proposal { proposes: Proposes::Grant, ..refuse() };
        let attempt = sit(&db, ines, &["fire"]).await;
        let new = NewProposal { record_entry_id: entry(&db).await, ..proposed(ines, attempt, wrong) };
        assert!(proposals::append(&db, new).await.is_err());
        attempts::mark_submitted(&db, ines, attempt, Some("k"), MORNING).await.unwrap();
        // A grant on a proposal to refuse, and one that claims another proposal than there was.
        let (_, id, refused) = about(&db, ines, refuse()).await;
        assert!(decisions::insert(&db, decision(&refused, id, Verdict::Granted, "r")).await.is_err());
        let lying = Decision { proposes: Proposes::Grant, ..decision(&refused, id, Verdict::Granted, "r") };
        assert!(decisions::insert(&db, lying).await.is_err());
        assert!(certificates::issue(&db, certificate_for(id, refused)).await.is_err());
        // A refusal against the proposal without a word why.
        let (_, id, granted) = about(&db, ines, grant()).await;
        assert!(decisions::insert(&db, decision(&granted, id, Verdict::Refused, "")).await.is_err());
        decisions::insert(&db, decision(&granted, id, Verdict::Refused, "Papers on the desk.")).await.unwrap();
    })
    .await;
}

#[tokio::test]
async fn nothing_of_it_is_changed_or_removed() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let (attempt, id, new) = about(&db, ines, grant()).await;
        decisions::insert(&db, decision(&new, id, Verdict::Refused, "r")).await.unwrap();
        let record_entry_id = new.record_entry_id;
        let appeal = Appeal { attempt_id: attempt, text: "No.".into(), lodged_at: MORNING, record_entry_id };
        decisions::lodge(&db, appeal).await.unwrap();
        let heard = AppealDecision {
            attempt_id: attempt,
            finding: Finding::Upheld,
            reason: "r".into(),
            decided_by: ines,
            decided_at: MORNING,
            record_entry_id,
        };
        decisions::insert_appeal_decision(&db, heard).await.unwrap();
        let (certificate, _) = certificates::issue(&db, certificate_for(id, new)).await.unwrap();
        let event = KeptEvent {
            event: Event { kind: EventKind::Withdrawn, at: MORNING },
            reason: "r".into(),
            done_by: None,
            record_entry_id,
        };
        certificates::append_event(&db, certificate, event).await.unwrap();
        let trigger = NewTrigger {
            person_id: ines,
            trigger: Trigger {
                kind: Kind::ChangedMachine,
                at: MORNING,
                machine: Some(MachineVersion { machine: "tarrel-60".into(), version: 2 }),
            },
            text: "t".into(),
            recorded_by: ines,
            key: "k".into(),
            record_entry_id,
        };
        triggers::append(&db, trigger.clone()).await.unwrap();
        let twice = triggers::append(&db, trigger.clone()).await;
        assert!(matches!(&twice, Err(StoreError::Conflict(name)) if name == conflict::TRIGGER), "{twice:?}");
        assert_eq!(triggers::of_person(&db, ines).await.unwrap()[0].entry, trigger);
        for (table, column) in [
            ("proposal", "grounds"),
            ("decision", "reason"),
            ("appeal", "text"),
            ("appeal_decision", "reason"),
            ("certificate", "scheme_key"),
            ("certificate_machine", "machine_key"),
            ("certificate_event", "reason"),
            ("refresher_trigger", "text"),
        ] {
            for forbidden in [format!("UPDATE {table} SET {column} = 'x'"), format!("DELETE FROM {table}")] {
                let refused = db.execute_unprepared(&forbidden).await.map_err(StoreError::from);
                let why = format!("append only: {table}");
                assert!(matches!(&refused, Err(StoreError::Corrupt(said)) if said.contains(&why)), "{refused:?}");
            }
        }
    })
    .await;
}

/// An attempt as it qualified, or did not, before there were decisions.
async fn before_decisions(db: &Db, person: PersonId, at: Moment, outcome: QualificationOutcome) -> AttemptId {
    let attempt = sit(db, person, &["fire", "lamps"]).await;
    attempts::mark_submitted(db, person, attempt, Some("k"), at).await.unwrap();
    let record_entry_id = entry(db).await;
    let qualified = outcome == QualificationOutcome::Qualified;
    for competence in ["fire", "lamps"] {
        let new = NewQualification {
            person_id: person,
            competence_key: competence.to_owned(),
            attempt_id: attempt,
            outcome,
            safety_miss: false,
            reason: "r".to_owned(),
            valid_from: at,
            valid_until: qualified.then(|| at.plus_seconds(1000 * DAY)),
            scheme_key: "first-day".to_owned(),
            scheme_version: 1,
            record_entry_id,
        };
        qualifications::append(db, new).await.unwrap();
    }
    attempt
}

#[tokio::test]
async fn what_had_qualified_before_becomes_a_certificate_granted_by_rule() {
    for_each_database(async |db: Db| {
        let (_, ines) = technician(&db).await;
        let later = MORNING.plus_seconds(400 * DAY);
        let first = before_decisions(&db, ines, MORNING, QualificationOutcome::Qualified).await;
        let second = before_decisions(&db, ines, later, QualificationOutcome::Qualified).await;
        let failed = before_decisions(&db, ines, later, QualificationOutcome::Refused).await;
        // As the database stood before the migration.
        for table in [
            "refresher_trigger",
            "certificate_event",
            "certificate_machine",
            "certificate",
            "appeal_decision",
            "appeal",
            "decision",
            "proposal",
        ] {
            db.execute_unprepared(&format!("DROP TABLE {table}")).await.unwrap();
        }
        db.execute_unprepared("DELETE FROM seaql_migrations WHERE version = 'm0004_certification'").await.unwrap();
        sootmark::store::migrate(&db).await.unwrap();

        let own = of_person(&db, ines).await.unwrap();
        let numbers: Vec<Number> = own.certificates.iter().map(|certificate| certificate.number).collect();
        assert_eq!(numbers, [Number { year: 2026, running: 1 }, Number { year: 2027, running: 1 }]);
        let [old, new] = own.certificates.as_slice() else { panic!("{numbers:?}") };
        assert_eq!((old.entry.attempt_id, new.entry.attempt_id), (first, second));
        assert_eq!(new.entry.machines, [MachineVersion { machine: "tarrel-60".to_owned(), version: 1 }]);
        let soon = later.plus_seconds(DAY);
        assert_eq!((own.state_of(old, soon), own.state_of(new, soon)), (State::Renewed { at: later }, State::Valid));
        for attempt in [first, second] {
            let decision = decisions::find(&db, attempt).await.unwrap().unwrap();
            assert_eq!((decision.verdict, decision.decided_by), (Verdict::Granted, None));
        }
        assert_eq!(decisions::find(&db, failed).await.unwrap(), None);
        let found = qualifications::of_person(&db, ines).await.unwrap();
        let fire: Vec<_> = found.into_iter().filter(|one| one.entry.competence_key == "fire").collect();
        assert_eq!(
            qualifications::standing(&fire, &own, "fire", soon).letter(),
            'Q',
            "a later fail takes nothing away"
        );
        assert!(db.execute_unprepared("DELETE FROM certificate").await.is_err(), "append only again");
    })
    .await;
}
