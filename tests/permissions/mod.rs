//! Every address of the program, asked for by everyone.
//!
//! The table that is walked here is the one that the server is built from: `routes!` in `src/web/routes.rs` makes both
//! from one list, so no route can be missing here. What could still add a route beside it is looked for in the sources.

mod fields;
mod foreign;
mod replies;
mod twice;

use crate::support::app::{TestApp, address_of};
use crate::support::client::{Client, Reply};
use crate::support::observed::{assessor, open, watched};
use crate::support::sittings::{Sat, decided, grant, manager, sit, watch};
use sootmark::actions::Token;
use sootmark::actions::access_key::make_access_key;
use sootmark::actions::assign::{ToDo, assign};
use sootmark::actions::decide::Decided;
use sootmark::domain::certification::assignment::Kind;
use sootmark::domain::certification::certificate::Number;
use sootmark::domain::certification::decision::Verdict;
use sootmark::domain::examination::observation::Task;
use sootmark::domain::people::Role;
use sootmark::store::assignments::ToWhom;
use sootmark::store::{AttemptId, people};
use sootmark::web::routes::{Access, RouteRow, TABLE, Verb};
use std::path::Path;

/// Something that exists for each address with a changing part, so that "not there" can only mean "not allowed".
/// Public addresses need none: nobody is kept from them.
const EXISTING: [(&str, &str); 50] = [
    ("/people/{id}", "/people/1"),
    ("/people/{id}/invitation", "/people/1/invitation"),
    ("/people/{id}/trainer", "/people/1/trainer"),
    ("/qualified/people/{id}/history", "/qualified/people/1/history"),
    ("/assignments/{id}", "/assignments/1"),
    ("/assignments/{id}/withdraw", "/assignments/1/withdraw"),
    ("/keys/{id}/revoke", "/keys/1/revoke"),
    ("/qualified/people/{id}", "/qualified/people/1"),
    ("/qualified/people/{id}/sitting/{attempt}", "/qualified/people/1/sitting/1"),
    ("/record/sitting/{attempt}", "/record/sitting/OWN"),
    ("/record/sitting/{attempt}/appeal", "/record/sitting/REFUSED/appeal"),
    ("/record/certificates/{number}", "/record/certificates/CERTIFICATE"),
    ("/decisions/{attempt}", "/decisions/1"),
    ("/decisions/{attempt}/appeal", "/decisions/5/appeal"),
    ("/decisions/certificates/{number}", "/decisions/certificates/CERTIFICATE"),
    ("/record/certificates/{number}/pdf", "/record/certificates/CERTIFICATE/pdf"),
    ("/record/certificates/{number}/signed-file", "/record/certificates/CERTIFICATE/signed-file"),
    ("/decisions/certificates/{number}/pdf", "/decisions/certificates/CERTIFICATE/pdf"),
    ("/decisions/certificates/{number}/signed-file", "/decisions/certificates/CERTIFICATE/signed-file"),
    ("/learn/{module}", "/learn/lamps"),
    ("/learn/{module}/{lesson}", "/learn/lamps/01-amber-and-red"),
    ("/learn/{module}/{lesson}/read", "/learn/lamps/01-amber-and-red/read"),
    ("/practise/{module}", "/practise/lamps"),
    ("/practise/question/{attempt}/{position}", "/practise/question/PRACTICE/1"),
    ("/examine/{scheme}", "/examine/first-day"),
    ("/examine/sitting/{id}/review", "/examine/sitting/OWN/review"),
    ("/examine/sitting/{id}/submit", "/examine/sitting/OWN/submit"),
    ("/examine/sitting/{id}/result", "/examine/sitting/OWN/result"),
    ("/examine/sitting/{id}/{position}", "/examine/sitting/OWN/1"),
    ("/examine/sitting/{id}/{position}/flag", "/examine/sitting/OWN/1/flag"),
    ("/invigilate/{id}", "/invigilate/1"),
    ("/invigilate/{id}/close", "/invigilate/1/close"),
    ("/invigilate/{id}/sittings/{attempt}", "/invigilate/1/sittings/1"),
    ("/observe/{id}", "/observe/WATCHED"),
    ("/observe/{id}/steps/{position}", "/observe/WATCHED/steps/1"),
    ("/observe/{id}/review", "/observe/WATCHED/review"),
    ("/observe/{id}/sign", "/observe/WATCHED/sign"),
    ("/record/observations/{id}", "/record/observations/SEEN"),
    ("/qualified/people/{id}/observations/{observation}", "/qualified/people/1/observations/1"),
    ("/people/{id}/time", "/people/1/time"),
    ("/people/{id}/one-time-codes", "/people/1/one-time-codes"),
    ("/branches/{id}", "/branches/1"),
    ("/debriefs/{id}", "/debriefs/5"),
    ("/machines/{id}", "/machines/tarrel-60"),
    ("/machines/{id}/edit", "/machines/tarrel-60/edit"),
    ("/templates/{topic}/{name}", "/templates/fire/straw-under-the-boom"),
    ("/templates/drafts/{id}", "/templates/drafts/1"),
    ("/templates/drafts/{id}/review", "/templates/drafts/1/review"),
    ("/templates/{topic}/{name}/change", "/templates/fire/straw-under-the-boom/change"),
    ("/templates/{topic}/{name}/retire", "/templates/fire/straw-under-the-boom/retire"),
];

/// Everyone who may sits an examination and hands it in: attempt 1 is person 1's, the technician's; 2 is the trainer's.
/// Then both practise: attempts 3 and 4. In attempt 5 a third person misses a safety question and awaits a debrief. The
/// trainer writes draft 1. Attempts 1 and 2 led to certificates; 6 and 7, again the technician's and the trainer's, were
/// refused. The trainer watches in invigilation 1. Observations 1 of the technician and 2 of the trainer are signed; 3 is
/// the trainer's to fill in, 4 the service manager's.
async fn filled(app: TestApp) -> TestApp {
    for (role, attempt) in [(Role::Technician, 1), (Role::Trainer, 2)] {
        let person = people::find_by_email_norm(&app.deeds.db, &address_of(role)).await.expect("the store");
        let sat = sit(&app, person.expect("the person").id, "first-day", Sat::Right).await;
        assert_eq!(sat.0, attempt, "{role}");
    }
    for (role, attempt) in [(Role::Technician, 3), (Role::Trainer, 4)] {
        let mut browser = app.signed_in(role).await;
        let asked = browser.post("/practise/lamps", &[]).await;
        assert_eq!(asked.location(), format!("/practise/question/{attempt}/1"), "{role}");
    }
    let third = app.person("Test third", "third@example.org", Role::Technician).await;
    assert_eq!(sit(&app, third, "first-day", Sat::MissingFire).await.0, 5);
    for attempt in [1, 2] {
        assert_eq!(grant(&app, AttemptId(attempt)).await, Number { year: 2026, running: attempt });
    }
    for (role, attempt) in [(Role::Technician, 6), (Role::Trainer, 7)] {
        let person = people::find_by_email_norm(&app.deeds.db, &address_of(role)).await.expect("the store");
        let sat = sit(&app, person.expect("the person").id, "first-day", Sat::WithoutLamps).await;
        assert_eq!(sat.0, attempt, "{role}");
        let refused = decided(&app, manager(&app).await, sat, Verdict::Refused, "").await;
        assert_eq!(refused, Decided::Done(None));
    }
    let by = manager(&app).await.person;
    let to_do = ToDo {
        to: ToWhom::Role(Role::Technician),
        kind: Kind::Module,
        thing_key: "lamps",
        due_day: "2026-12-01",
        key: "a key of the test",
    };
    let assigned = assign(&app.deeds, by, to_do).await.expect("the store");
    assert_eq!(assigned.map(|id| id.0), Some(1));
    make_access_key(&app.deeds, by, "a program of the test", None, &Token::fresh().expect("random bytes"))
        .await
        .expect("the store");
    let draft = app.signed_in(Role::Trainer).await.post("/templates/new", &[("key", "fire/new")]).await;
    assert_eq!(draft.location(), "/templates/drafts/1");
    assert_eq!(watch(&app, "service-technician").await.0.0, 1);
    let (trainer, service_manager) = (assessor(&app, Role::Trainer).await, assessor(&app, Role::ServiceManager).await);
    let technician = assessor(&app, Role::Technician).await.person;
    assert!(watched(&app, trainer, technician, Task::StopAndCall, &[]).await);
    assert!(watched(&app, service_manager, trainer.person, Task::StopAndCall, &[]).await);
    assert_eq!(open(&app, trainer, technician, Task::DailyCheck).await.0, 3);
    assert_eq!(open(&app, service_manager, technician, Task::DailyCheck).await.0, 4);
    app
}

async fn start() -> TestApp {
    filled(TestApp::start_with_bank().await).await
}

/// The path that somebody of a role asks for.
fn path_of(row: &RouteRow, role: Role) -> String {
    if let Some((_, path)) = EXISTING.iter().find(|(pattern, _)| *pattern == row.path) {
        let trains = role == Role::Trainer;
        let (own, practice, refused) = if trains { ("2", "4", "7") } else { ("1", "3", "6") };
        let certificate = Number { year: 2026, running: if trains { 2 } else { 1 } }.to_string();
        let (seen, to_fill) = if trains { ("2", "3") } else { ("1", "4") };
        let path = path
            .replace("SEEN", seen)
            .replace("WATCHED", to_fill)
            .replace("OWN", own)
            .replace("PRACTICE", practice)
            .replace("REFUSED", refused);
        return path.replace("CERTIFICATE", &certificate);
    }
    let changing = row.path.contains('{');
    assert!(!changing || row.access == Access::Public, "add an existing example of {} to EXISTING", row.path);
    row.path.replace(['{', '}'], "")
}

async fn ask(browser: &mut Client, row: &RouteRow, path: &str) -> Reply {
    match row.method {
        Verb::GET => browser.get(path).await,
        Verb::POST => browser.post(path, &[]).await,
    }
}

fn turned_to_sign_in(reply: &Reply) -> bool {
    reply.status == 401
        || (reply.status == 303
            && ["/sign-in", "/sign-in?next"]
                .iter()
                .any(|to| reply.location() == *to || reply.location().starts_with(&format!("{to}="))))
}

#[tokio::test]
async fn every_role_reaches_its_own_addresses_and_finds_nothing_at_the_others() {
    let app = start().await;
    for row in TABLE {
        for role in Role::ALL {
            let mut browser = app.signed_in(role).await;
            let path = path_of(row, role);
            let nothing = ask(&mut browser.clone(), row, "/no-such-page").await;
            let reply = ask(&mut browser, row, &path).await;
            let of = format!("{role} at {:?} {path}: {} {}", row.method, reply.status, reply.text());
            if row.access == Access::Public {
                assert!(!turned_to_sign_in(&reply), "{of}");
            } else if row.access.admits(role) {
                assert!(![401, 403, 404].contains(&reply.status) && !turned_to_sign_in(&reply), "{of}");
            } else {
                assert_eq!(reply.seen(), nothing.seen(), "{of}");
                assert_eq!(reply.status, 404, "{of}");
            }
            assert!(reply.status < 500, "{of}");
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn nobody_and_who_is_suspended_are_asked_to_sign_in_everywhere_but_at_public_addresses() {
    let app = start().await;
    let person = app.person("Test leaver", "leaver@example.org", Role::Administrator).await;
    let suspended = app.signed_in_as("leaver@example.org").await;
    app.suspend(person).await;
    for row in TABLE {
        for (who, mut browser) in [("nobody", app.browser()), ("suspended", suspended.clone())] {
            let path = path_of(row, Role::Technician);
            let reply = ask(&mut browser, row, &path).await;
            let of = format!("{who} at {:?} {path}: {} {}", row.method, reply.status, reply.text());
            // Whoever signs out and is out already is told so, and asked nothing.
            let is_out = row.path == "/sign-out" && reply.location() == "/sign-in?after=sign-out";
            assert_eq!(turned_to_sign_in(&reply) || is_out, row.access != Access::Public, "{of}");
            assert!(reply.status < 500, "{of}");
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn a_form_without_the_sessions_token_does_nothing_anywhere() {
    let app = start().await;
    for row in
        TABLE.iter().filter(|row| row.method == Verb::POST && ![Access::Public, Access::Halfway].contains(&row.access))
    {
        let Some(role) = Role::ALL.into_iter().find(|role| row.access.admits(*role)) else { continue };
        let mut browser = app.signed_in(role).await;
        for token in ["", "0", &app.signed_in(role).await.form_token] {
            browser.form_token = token.to_owned();
            let reply = ask(&mut browser, row, &path_of(row, role)).await;
            assert_eq!(reply.status, 403, "{role} at {} with token {token:?}", row.path);
        }
    }
    app.stop().await;
}

#[test]
fn nothing_adds_a_route_beside_the_table() {
    let web = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/web");
    let mut looked_at = 0;
    for (path, source) in sources(&web) {
        looked_at += 1;
        if path.ends_with("routes.rs") {
            continue;
        }
        for adds in
            [".route(", ".service(", ".resource(", "web::scope", "web::resource", "#[get(", "#[post(", "#[route("]
        {
            assert!(!source.contains(adds), "{path} adds a route by {adds}: give it a row in src/web/routes.rs");
        }
    }
    assert!(looked_at > 10, "the sources of the web were not found");
}

fn sources(folder: &Path) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a folder of sources") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push((path.display().to_string(), std::fs::read_to_string(&path).expect("a source")));
        }
    }
    found
}
