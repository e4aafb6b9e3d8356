//! Who may be sent: the list with its filters, the file, the people, in every state and with many.

use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::sittings::{Sat, certify, grant, sit};
use sea_orm::ConnectionTrait as _;
use sootmark::domain::people::{EmailAddress, PersonName, Role};
use sootmark::domain::units::TemperatureUnit;
use sootmark::store::people::NewPerson;
use sootmark::store::{AttemptId, BranchId, PersonId, StoreError, branches, people, record, write};
use std::time::{Duration, Instant};

const DAY: i64 = 86_400;

async fn branch(app: &TestApp, name: &str) -> BranchId {
    let added = write::<_, StoreError, _>(&app.deeds.db, async |tx| branches::insert(tx, name, "Europe/Dublin").await);
    added.await.expect("a branch")
}

async fn technician(app: &TestApp, branch_id: BranchId, name: &str, email: &str, scheme: Option<&str>) -> PersonId {
    let new = NewPerson {
        branch_id,
        email: EmailAddress::parse(email).expect("an address"),
        display_name: PersonName::parse(name).expect("a name"),
        role: Role::Technician,
        password_phc: None,
        temperature_unit: TemperatureUnit::Celsius,
        scheme_key: scheme.map(str::to_owned),
        created_at: app.clock.now(),
    };
    let added = write::<_, StoreError, _>(&app.deeds.db, async |tx| people::insert(tx, new).await);
    added.await.expect("a person")
}

/// The rows of the file: each cell under its heading.
fn rows(reply: &Reply) -> Vec<Vec<String>> {
    assert_eq!(reply.status, 200, "{}", reply.text());
    let mut reader = csv::Reader::from_reader(reply.body.as_bytes());
    let head = "person,e-mail,branch,competence,state,valid from,valid until,reason,scheme,scheme version,record entry,\
                record head";
    assert_eq!(reader.headers().expect("a head").iter().collect::<Vec<_>>().join(","), head);
    let rows: Vec<Vec<String>> =
        reader.records().map(|row| row.expect("a row").iter().map(str::to_owned).collect()).collect();
    let end = reply.header("x-record-head").and_then(|head| head.split_once(' ')).expect("the record's end").1;
    assert!(rows.iter().all(|row| row[11] == end), "each row names the record's end");
    rows
}

async fn state_of(manager: &mut Client, name: &str, competence: &str) -> (String, String) {
    let reply = manager.get(&format!("/qualified.csv?competence={competence}&search={name}")).await;
    let rows = rows(&reply);
    assert_eq!(rows.len(), 1, "{rows:?}");
    (rows[0][4].clone(), rows[0][7].clone())
}

#[tokio::test]
async fn states_follow_the_clock_and_the_safety_miss() {
    let app = TestApp::start_with_bank().await;
    let ines = technician(&app, app.branch, "Ines Varga", "ines@example.org", None).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    assert_eq!(state_of(&mut manager, "ines", "fire").await, ("missing".into(), "no certificate on record".into()));

    sit(&app, ines, "first-day", Sat::WithoutLamps).await;
    let (state, reason) = state_of(&mut manager, "ines", "lamps").await;
    assert_eq!(state, "missing");
    assert_eq!(reason, "not passed on 24 Nov 2026: 0 of 3 right in Lamps; 50 % are needed.");

    app.clock.advance(3600);
    let passed = sit(&app, ines, "first-day", Sat::Right).await;
    // A pass alone does not qualify: somebody decides.
    assert_eq!(state_of(&mut manager, "ines", "lamps").await, ("waits".into(), "passed on 24 Nov 2026".into()));
    grant(&app, passed).await;
    assert_eq!(state_of(&mut manager, "ines", "lamps").await.0, "qualified");
    let shown = manager.get("/qualified?competence=fire&search=ines").await.text();
    assert!(shown.contains("1 person is listed. 1 may be sent to such work today: Fire and burns."), "{shown}");
    assert!(shown.contains("qualified") && shown.contains("until 24 Nov 2029"), "{shown}");

    app.clock.advance(DAY);
    sit(&app, ines, "first-day", Sat::MissingFire).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let (state, reason) = state_of(&mut manager, "ines", "fire").await;
    assert_eq!(state, "suspended");
    assert!(reason.starts_with("safety question missed on 25 Nov 2026: 1 of 2 right in Fire and burns."), "{reason}");
    // What was passed before stays, and the open miss is said beside it.
    assert_eq!(state_of(&mut manager, "ines", "lamps").await.0, "qualified");
    let shown = manager.get("/qualified?competence=lamps&search=ines").await.text();
    assert!(shown.contains("Open safety miss: Fire and burns"), "{shown}");

    // 24 Nov 2029 less 59 days: it ends soon. On the day itself it has ended; the miss outlives it.
    app.clock.advance((365 * 3 + 1 - 1 - 59) * DAY);
    let mut manager = app.signed_in(Role::ServiceManager).await;
    assert_eq!(state_of(&mut manager, "ines", "lamps").await.0, "expiring");
    assert_eq!(state_of(&mut manager, "ines", "fire").await.0, "suspended");
    app.clock.advance(59 * DAY);
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let (state, reason) = state_of(&mut manager, "ines", "lamps").await;
    assert_eq!(state, "missing");
    assert!(reason.starts_with("lapsed on 24 Nov 2029: 3 of 3 right in Lamps."), "{reason}");
    let (state, reason) = state_of(&mut manager, "ines", "fire").await;
    assert!(state == "missing" && reason.starts_with("safety question missed on 25 Nov 2026"), "{state} {reason}");
    app.stop().await;
}

#[tokio::test]
async fn filters_keep_branch_competence_state_and_name_apart() {
    let app = TestApp::start_with_bank().await;
    let saltmarsh = branch(&app, "Saltmarsh").await;
    let ines = technician(&app, app.branch, "Ines Varga", "ines@example.org", None).await;
    let tomas = technician(&app, saltmarsh, "Tomas Reyk", "tomas@example.org", Some("first-day")).await;
    technician(&app, saltmarsh, "Abel Quint", "abel@example.org", Some("first-day")).await;
    certify(&app, ines, "first-day").await;
    sit(&app, tomas, "first-day", Sat::MissingFire).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let mut names = async |query: &str| {
        let page = manager.get(&format!("/qualified?{query}")).await;
        assert_eq!(page.status, 200, "{query}");
        let mut found: Vec<(usize, &str)> =
            ["Ines Varga", "Tomas Reyk", "Abel Quint", "Test technician", "Test trainer"]
                .into_iter()
                .filter_map(|name| page.body.find(&format!(">{name}</a>")).map(|at| (at, name)))
                .collect();
        found.sort_unstable();
        found.into_iter().map(|(_, name)| name).collect::<Vec<_>>()
    };
    assert_eq!(names("").await, ["Ines Varga", "Test technician", "Test trainer", "Abel Quint", "Tomas Reyk"]);
    assert_eq!(names(&format!("branch={saltmarsh}")).await, ["Abel Quint", "Tomas Reyk"]);
    assert_eq!(names(&format!("branch={saltmarsh}&search=TOMAS")).await, ["Tomas Reyk"]);
    assert_eq!(names("search=abel@").await, ["Abel Quint"]);
    assert_eq!(names("state=qualified").await, ["Ines Varga"]);
    assert_eq!(names("state=may_be_sent&competence=fire").await, ["Ines Varga"]);
    assert_eq!(names("state=may_be_sent&competence=parked").await, [] as [&str; 0]);
    // Who may be sent comes first, whatever the name.
    let fire = names("competence=fire").await;
    assert_eq!(fire.first(), Some(&"Ines Varga"), "{fire:?}");
    assert_eq!(fire.len(), 5);
    // What nobody knows is as if it had not been asked.
    assert_eq!(names("state=x&competence=y&branch=z&page=99").await.len(), 5);
    assert_eq!(names("branch=999").await, [] as [&str; 0]);

    let page = manager.get("/qualified?branch=999").await.text();
    assert!(page.contains("Nobody matches.") && page.contains("No rows"), "{page}");
    // Nobody lists a competence that the person's scheme does not ask for.
    let file = rows(&manager.get("/qualified.csv?search=abel").await);
    assert_eq!(file.iter().map(|row| row[3].as_str()).collect::<Vec<_>>().len(), 4, "{file:?}");
    assert!(file.iter().all(|row| row[4] == "missing" && row[2] == "Saltmarsh"));
    app.stop().await;
}

#[tokio::test]
async fn the_file_reads_back_whole_and_runs_nothing() {
    let app = TestApp::start_with_bank().await;
    let evil = "=HYPERLINK(\"http://example.org\",\"Ada, \u{201c}the\u{201d} \u{e9}lan\")";
    let person = technician(&app, app.branch, evil, "evil@example.org", Some("first-day")).await;
    technician(&app, app.branch, "-5", "five@example.org", Some("first-day")).await;
    certify(&app, person, "first-day").await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let reply = manager.get("/qualified.csv").await;
    assert_eq!(reply.header("content-type"), Some("text/csv; charset=utf-8; header=present"));
    assert_eq!(reply.header("content-disposition"), Some("attachment; filename=\"qualified-2026-11-24.csv\""));
    assert!(reply.body.ends_with("\r\n") && !reply.body.replace("\r\n", "").contains('\n'), "RFC 4180, 2.1");
    let whole = record::verify(&app.deeds.db).await.expect("the record");
    let record::Verification::Whole { entries, last_hash } = whole else { panic!("{whole:?}") };
    assert_eq!(reply.header("x-record-head"), Some(format!("{entries} {last_hash}").as_str()));

    let file = rows(&reply);
    let of = |email: &str| file.iter().filter(|row| row[1] == email).cloned().collect::<Vec<_>>();
    let evil_rows = of("evil@example.org");
    assert_eq!(evil_rows.len(), 4);
    let lamps = evil_rows.iter().find(|row| row[3] == "Lamps").expect("lamps");
    let entry = lamps[10].parse::<i64>().expect("a number");
    assert!(entry > 0 && entry <= entries, "{entry}");
    let expected = [
        &format!("'{evil}"),
        "evil@example.org",
        "Coldbrook",
        "Lamps",
        "qualified",
        "2026-11-24T08:00:00Z",
        "2029-11-24T08:00:00Z",
        "until 24 Nov 2029: 3 of 3 right in Lamps.",
        "first-day",
        "1",
    ];
    assert_eq!(lamps[..10], expected.map(str::to_owned));
    assert!(of("five@example.org").iter().all(|row| row[0] == "-5"), "a plain number stays one");
    // Every row of a state, and of no other.
    let qualified = rows(&manager.get("/qualified.csv?state=qualified").await);
    assert_eq!(qualified.len(), 4);
    let page = manager.get("/qualified").await;
    assert!(page.body.contains("&#x2F;example.org") || page.body.contains("&quot;http"), "escaped");
    assert!(page.text().contains(&last_hash));
    app.stop().await;
}

#[tokio::test]
async fn only_a_service_manager_sees_others() {
    let app = TestApp::start_with_bank().await;
    for role in [Role::Technician, Role::Trainer, Role::Administrator] {
        let mut browser = app.signed_in(role).await;
        let nothing = browser.get("/no-such-page").await;
        for path in ["/qualified", "/qualified.csv", "/qualified/people/1", "/qualified/people/1/sitting/1"] {
            let reply = browser.get(path).await;
            assert_eq!((reply.status, reply.body), (404, nothing.body.clone()), "{role} at {path}");
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn a_persons_record_is_shown_to_the_manager_with_proof_and_a_place_to_sign() {
    let app = TestApp::start_with_bank().await;
    let ines = technician(&app, app.branch, "Ines Varga", "ines@example.org", None).await;
    let attempt = sit(&app, ines, "first-day", Sat::MissingFire).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let page = manager.get(&format!("/qualified/people/{ines}")).await;
    let text = page.text();
    for words in [
        "Ines Varga",
        "Missed a mandatory safety question in: Fire and burns.",
        "Not qualified for anything now.",
        "First day on site: not passed",
        "Record entry",
        "Service manager, name",
        "Signature",
    ] {
        assert!(text.contains(words), "{words} in {text}");
    }
    assert!(page.body.contains(&format!("href=\"/qualified/people/{ines}/sitting/{attempt}\"")), "{}", page.body);
    let sitting = manager.get(&format!("/qualified/people/{ines}/sitting/{attempt}")).await;
    assert!(sitting.text().contains("The record of Ines Varga"), "{}", sitting.text());

    // Who has left is in no list, but their record stays.
    app.suspend(ines).await;
    assert!(!manager.get("/qualified").await.body.contains("Ines Varga"));
    let text = manager.get(&format!("/qualified/people/{ines}")).await.text();
    assert!(text.contains("This person is suspended and cannot sign in."), "{text}");
    app.stop().await;
}

#[tokio::test]
async fn nobody_to_list_is_said_so() {
    let app = TestApp::start().await;
    for role in [Role::Technician, Role::Trainer] {
        let person = people::find_by_email_norm(&app.deeds.db, &address_of(role)).await.unwrap().unwrap();
        app.suspend(person.id).await;
    }
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let text = manager.get("/qualified").await.text();
    assert!(text.contains("0 people.") && text.contains("Nobody matches."), "{text}");
    assert_eq!(rows(&manager.get("/qualified.csv").await).len(), 0);
    app.stop().await;
}

/// SQL that certifies everybody whose attempt is another than this one.
fn certified(app: &TestApp, attempt: AttemptId) -> [String; 4] {
    let now = app.clock.now();
    [
        format!(
            "INSERT INTO proposal (attempt_id, person_id, scheme_key, scheme_version, proposes, safety_miss, grounds, competences,
               machines, examined_at, valid_until, made_at, record_entry_id)
             SELECT a.id, a.person_id, 'first-day', 1, 'grant', 1 = 0, '[]', '[]', '[]', {from}, {until}, {from},
               (SELECT min(record_entry_id) FROM qualification)
             FROM attempt a WHERE a.id <> {attempt}",
            from = now.0,
            until = now.plus_seconds(1000 * DAY).0,
        ),
        format!(
            "INSERT INTO decision (attempt_id, proposal_id, proposes, outcome, reason, decided_at, key, record_entry_id)
             SELECT attempt_id, id, proposes, 'granted', '', made_at, '', record_entry_id FROM proposal WHERE attempt_id <> {attempt}"
        ),
        format!(
            "INSERT INTO certificate (attempt_id, proposal_id, proposes, person_id, scheme_key, scheme_version, year, running,
               examined_at, valid_from, valid_until, record_entry_id)
             SELECT attempt_id, id, proposes, person_id, scheme_key, 1, 2026, 100 + id, examined_at, made_at, valid_until, record_entry_id
             FROM proposal WHERE attempt_id <> {attempt}"
        ),
        format!(
            "INSERT INTO certificate_machine (certificate_id, machine_key, machine_version)
             SELECT id, 'tarrel-60', 1 FROM certificate WHERE attempt_id <> {attempt}"
        ),
    ]
}

#[tokio::test]
async fn two_thousand_people_come_fifty_at_a_time() {
    let app = TestApp::start_with_bank().await;
    let ines = technician(&app, app.branch, "Ines Varga", "ines@example.org", None).await;
    let attempt = sit(&app, ines, "first-day", Sat::Right).await;
    grant(&app, attempt).await;
    // Bulk rows straight in SQL: what is measured is reading them.
    let numbers = "WITH RECURSIVE n(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM n WHERE n < 2000)";
    let sql = [
        format!(
            "INSERT INTO person (branch_id, email, email_norm, display_name, name_norm, role, temperature_unit, active, created_at)
             {numbers} SELECT {}, 'p' || n, 'p' || n, 'P' || n, 'p' || n, 'technician', 'celsius', 1 = 1, 0 FROM n",
            app.branch
        ),
        format!(
            "INSERT INTO attempt (person_id, kind, scheme_key, scheme_version, seed, temperature_unit, state, started_at, submitted_at)
             SELECT p.id, 'examination', 'first-day', 1, (SELECT seed FROM attempt WHERE id = {attempt}), 'celsius', 'submitted', 0, 1
             FROM person p WHERE p.email LIKE 'p%' AND p.email NOT LIKE '%@%'"
        ),
        format!(
            "INSERT INTO qualification (person_id, competence_key, attempt_id, outcome, safety_miss, reason, valid_from, valid_until,
               scheme_key, scheme_version, record_entry_id)
             SELECT a.person_id, c.key, a.id, 'qualified', 1 = 0, 'passed', {from}, {until}, 'first-day', 1,
               (SELECT min(record_entry_id) FROM qualification)
             FROM attempt a CROSS JOIN (SELECT 'lamps' AS key UNION SELECT 'bands' UNION SELECT 'passive' UNION SELECT 'active'
               UNION SELECT 'parked' UNION SELECT 'inhibit' UNION SELECT 'fire' UNION SELECT 'closed_spaces'
               UNION SELECT 'stop_and_call' UNION SELECT 'soot_and_ash' UNION SELECT 'telling') c WHERE a.id <> {attempt}",
            from = app.clock.now().0,
            until = app.clock.now().plus_seconds(1000 * DAY).0,
        ),
    ];
    for statement in sql.into_iter().chain(certified(&app, attempt)) {
        app.deeds.db.execute_unprepared(&statement).await.expect("rows");
    }
    let mut manager = app.signed_in(Role::ServiceManager).await;
    manager.get("/assignments").await;
    for (key, thing) in [("a", "module:lamps"), ("b", "scheme:first-day")] {
        let key = key.repeat(64);
        let group = format!("branch:{}", app.branch);
        let fields = [("key", key.as_str()), ("thing", thing), ("group", &group), ("email", ""), ("due", "2026-12-01")];
        assert_eq!(manager.post("/assignments", &fields).await.status, 303);
    }
    for (path, words) in [
        ("/qualified", "Rows 1 to 50 of 2003"),
        ("/qualified?page=41", "Rows 2001 to 2003 of 2003"),
        ("/qualified?competence=parked", "2003 people are listed. 2000 may be sent to such work today"),
        ("/qualified?state=missing&search=p19", "No rows"),
        ("/qualified/who?competence=parked&machine=tarrel-60", "Rows 1 to 50 of 2000"),
        ("/qualified/who?competence=parked&machine=tarrel-60&page=40", "Rows 1951 to 2000 of 2000"),
        ("/qualified/who?competence=parked&machine=hobrek-40", "Nobody may be sent today to"),
        ("/qualified/lapsing", "No rows"),
        ("/qualified/branches", "Coldbrook: 2000 of 2003"),
        ("/", "Whom may you send to which machine today?"),
        ("/assignments", "Nothing is overdue."),
        ("/assignments/2", "2001 of 2003 have done it."),
    ] {
        let begun = Instant::now();
        let page = manager.get(path).await;
        let took = begun.elapsed();
        let text = page.text().replace('\u{a0}', "");
        assert!(page.status == 200 && text.contains(words), "{words} at {path}: {text}");
        assert!(page.body.matches("<tr").count() <= 102, "{path}");
        // Generous: an unoptimised build on a busy machine. It would take minutes with a query for each person.
        assert!(took < Duration::from_secs(10), "{path} took {took:?}");
        eprintln!("{path} with 2003 people: {took:?}, {} bytes", page.body.len());
    }
    let begun = Instant::now();
    assert_eq!(rows(&manager.get("/qualified.csv").await).len(), 2003 * 11);
    eprintln!("the file of 22033 rows: {:?}", begun.elapsed());
    app.stop().await;
}
