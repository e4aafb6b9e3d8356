//! What a service manager keeps beside certificates, on both databases: it only grows, each click counts once, and reading
//! it takes as many statements for many people as for few.

use super::sample::{MORNING, technician};
use crate::support::database::for_each_database;
use sea_orm::{ConnectionTrait, DbBackend, DbErr, ExecResult, QueryResult, Statement};
use sootmark::domain::certification::assignment::Kind;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::access_keys::{self, NewAccessKey};
use sootmark::store::assignments::{self, NewAssignment, ToWhom, Withdrawal};
use sootmark::store::named_trainers::{self, Named};
use sootmark::store::people::{self, NewPerson};
use sootmark::store::read::assigned::learners;
use sootmark::store::read::matrix::{MatrixFilter, matrix};
use sootmark::store::record::{self, NewEntry};
use sootmark::store::{BranchId, Db, PersonId, RecordEntryId, StoreError, calendar_feeds, conflict, write};
use std::sync::atomic::{AtomicUsize, Ordering};

async fn entry(db: &Db) -> RecordEntryId {
    let entry = NewEntry {
        at: MORNING,
        actor_id: None,
        deed: "assigned".to_owned(),
        subject_kind: "person".to_owned(),
        subject_id: Some(1),
        detail: serde_json::Value::Null,
    };
    write::<_, StoreError, _>(db, async |tx| record::append(tx, entry.clone()).await).await.expect("an entry")
}

fn to(whom: ToWhom, by: PersonId, key: &str, record_entry_id: RecordEntryId) -> NewAssignment {
    NewAssignment {
        to: whom,
        kind: Kind::Module,
        thing_key: "lamps".to_owned(),
        due_day: "2026-12-01".to_owned(),
        made_by: by,
        made_at: MORNING,
        key: key.to_owned(),
        record_entry_id,
    }
}

async fn assigned(db: &Db, new: NewAssignment) -> Result<sootmark::store::AssignmentId, StoreError> {
    write(db, async |tx| assignments::append(tx, new.clone()).await).await
}

#[tokio::test]
async fn assignments_are_kept_for_a_person_a_branch_or_a_role_and_only_ever_added() {
    for_each_database(async |db| {
        let (branch, ines) = technician(&db).await;
        let on_record = entry(&db).await;
        let three = [ToWhom::Person(ines), ToWhom::Branch(branch), ToWhom::Role(Role::Trainer)];
        for (number, whom) in three.into_iter().enumerate() {
            assigned(&db, to(whom, ines, &number.to_string(), on_record)).await.expect("kept");
        }
        let again = assigned(&db, to(three[0], ines, "0", on_record)).await;
        assert!(matches!(again, Err(StoreError::Conflict(which)) if which == conflict::ASSIGNMENT));
        let all = assignments::all(&db).await.expect("the store");
        assert_eq!(all.iter().map(|of| of.entry.to).collect::<Vec<_>>(), three);
        let own = assignments::of_person(&db, ines, branch, Role::Technician).await.expect("the store");
        assert_eq!(own.len(), 2, "hers and her branch's");

        let of = Withdrawal { reason: "Done with.".to_owned(), by: ines, at: MORNING, record_entry_id: on_record };
        let withdrawn = async || write(&db, async |tx| assignments::withdraw(tx, all[0].id, of.clone()).await).await;
        withdrawn().await.expect("kept");
        let again: Result<(), StoreError> = withdrawn().await;
        assert!(matches!(again, Err(StoreError::Conflict(which)) if which == conflict::ASSIGNMENT_WITHDRAWAL));
        assert_eq!(assignments::by_id(&db, all[0].id).await.expect("the store").withdrawn, Some(of));

        let named =
            Named { person_id: ines, trainer_id: None, named_by: ines, named_at: MORNING, record_entry_id: on_record };
        write::<_, StoreError, _>(&db, async |tx| named_trainers::append(tx, named).await).await.expect("kept");
        for table in ["assignment", "assignment_withdrawal", "named_trainer"] {
            for sql in [format!("DELETE FROM {table}"), format!("UPDATE {table} SET record_entry_id = record_entry_id")] {
                assert!(db.execute_unprepared(&sql).await.is_err(), "{sql} is refused");
            }
        }
        // Nobody, and two at once, are refused by the database itself.
        for whom in ["NULL, NULL, NULL", "1, 1, NULL"] {
            let sql = format!(
                "INSERT INTO assignment (person_id, branch_id, role, kind, thing_key, due_day, made_by, made_at, key, record_entry_id)
                 VALUES ({whom}, 'module', 'lamps', '2026-12-01', {ines}, 0, 'x', {on_record})"
            );
            assert!(db.execute_unprepared(&sql).await.is_err(), "{whom}");
        }
    })
    .await;
}

#[tokio::test]
async fn keys_and_calendar_addresses_are_found_by_their_hash_until_they_are_replaced() {
    for_each_database(async |db| {
        let (branch, ines) = technician(&db).await;
        let new = NewAccessKey {
            key_hash: "h1".to_owned(),
            label: "Job planner".to_owned(),
            branch_id: Some(branch),
            made_by: ines,
            made_at: MORNING,
        };
        let id =
            write::<_, StoreError, _>(&db, async |tx| access_keys::insert(tx, new.clone()).await).await.expect("kept");
        let found = access_keys::find_usable(&db, "h1").await.expect("the store").expect("a key");
        assert_eq!((found.id, found.entry, found.maker.id), (id, new, ines));
        let revoked = async || {
            write::<_, StoreError, _>(&db, async |tx| access_keys::revoke(tx, id, ines, MORNING).await)
                .await
                .expect("done")
        };
        assert!(revoked().await);
        assert!(!revoked().await, "once");
        assert_eq!(access_keys::find_usable(&db, "h1").await.expect("the store"), None);
        assert_eq!(access_keys::all(&db).await.expect("the store")[0].revoked_at, Some(MORNING));

        for hash in ["c1", "c2"] {
            let renewed = async |tx: &_| calendar_feeds::renew(tx, ines, hash, MORNING).await;
            write::<_, StoreError, _>(&db, renewed).await.expect("kept");
        }
        assert_eq!(calendar_feeds::find_person(&db, "c1").await.expect("the store"), None);
        assert_eq!(calendar_feeds::find_person(&db, "c2").await.expect("the store"), Some(ines));
    })
    .await;
}

/// A connection that counts what is asked of it.
struct Counted<'a> {
    db: &'a Db,
    statements: AtomicUsize,
}

#[async_trait::async_trait]
impl ConnectionTrait for Counted<'_> {
    fn get_database_backend(&self) -> DbBackend {
        self.db.get_database_backend()
    }
    async fn execute_raw(&self, stmt: Statement) -> Result<ExecResult, DbErr> {
        self.statements.fetch_add(1, Ordering::Relaxed);
        self.db.execute_raw(stmt).await
    }
    async fn execute_unprepared(&self, sql: &str) -> Result<ExecResult, DbErr> {
        self.statements.fetch_add(1, Ordering::Relaxed);
        self.db.execute_unprepared(sql).await
    }
    async fn query_one_raw(&self, stmt: Statement) -> Result<Option<QueryResult>, DbErr> {
        self.statements.fetch_add(1, Ordering::Relaxed);
        self.db.query_one_raw(stmt).await
    }
    async fn query_all_raw(&self, stmt: Statement) -> Result<Vec<QueryResult>, DbErr> {
        self.statements.fetch_add(1, Ordering::Relaxed);
        self.db.query_all_raw(stmt).await
    }
}

async fn statements(db: &Db) -> [usize; 3] {
    let counted = Counted { db, statements: AtomicUsize::new(0) };
    matrix(&counted, &MatrixFilter::default()).await.expect("the store");
    let now = counted.statements.swap(0, Ordering::Relaxed);
    matrix(&counted, &MatrixFilter { whole: true, ..MatrixFilter::default() }).await.expect("the store");
    let whole = counted.statements.swap(0, Ordering::Relaxed);
    learners(&counted, None, &["lamps".to_owned()].into()).await.expect("the store");
    [now, whole, counted.statements.swap(0, Ordering::Relaxed)]
}

async fn add(db: &Db, branch_id: BranchId, number: usize) {
    let new = NewPerson {
        branch_id,
        email: EmailAddress::parse(&format!("p{number}@example.org")).expect("an address"),
        display_name: PersonName::parse(&format!("Person {number}")).expect("a name"),
        role: Role::Technician,
        password_phc: None,
        temperature_unit: TemperatureUnit::Celsius,
        scheme_key: None,
        created_at: MORNING,
    };
    write::<_, StoreError, _>(db, async |tx| people::insert(tx, new.clone()).await).await.expect("a person");
}

#[tokio::test]
async fn many_people_take_no_more_statements_than_one() {
    for_each_database(async |db| {
        let (branch, _) = technician(&db).await;
        let one = statements(&db).await;
        for number in 0..40 {
            add(&db, branch, number).await;
        }
        assert_eq!(statements(&db).await, one);
        assert!(one.iter().all(|count| (1..=8).contains(count)), "{one:?}");
    })
    .await;
}
