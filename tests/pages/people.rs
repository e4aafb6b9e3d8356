//! Inviting, importing, listing and changing people.

use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::database::for_each_database;
use sootmark::actions::Token;
use sootmark::actions::accept_invitation::{Acceptance, accept_invitation};
use sootmark::actions::import_people::{Import, UnknownBranches, import_people};
use sootmark::actions::invite_person::{Invited, Invitee, invite_person};
use sootmark::config::Settings;
use sootmark::domain::people::Role;
use sootmark::domain::people::{EmailAddress, PersonName};
use sootmark::store::people;
use sootmark::store::record::{self, Verification};
use sootmark::store::sessions::Device;

#[tokio::test]
async fn an_invited_person_chooses_a_password_once() {
    let app = TestApp::start().await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let branch = app.branch.to_string();
    let invitee = |name: &'static str, email: &'static str| [("name", name), ("email", email), ("role", "technician")];
    let mut fields = invitee("<b>Ada</b> Lovell", "Ada@Example.org").to_vec();
    fields.push(("branch", &branch));
    let reply = manager.post("/people/invite", &fields).await;
    assert_eq!((reply.status, reply.location()), (303, "/people?done=invited"));
    let list = manager.get("/people?search=lovell").await;
    assert!(
        list.body.contains("&lt;b&gt;Ada&lt;&#x2F;b&gt; Lovell") || list.body.contains("&lt;b&gt;Ada&lt;/b&gt; Lovell")
    );
    assert!(list.text().contains("invited"), "{}", list.text());
    assert!(list.body.contains("Ada<wbr>@Example<wbr>.org"), "a narrow column breaks it there: {}", list.body);

    // A second click is the first once more; a minute later somebody asks anew.
    assert_eq!(manager.post("/people/invite", &fields).await.location(), "/people?done=invited");
    app.clock.advance(60);
    let again = manager.post("/people/invite", &fields).await;
    assert_eq!(again.status, 422);
    assert!(again.text().contains("Somebody has this address already."), "{}", again.text());
    assert!(again.body.contains("value=\"Ada@Example.org\""), "what was typed stays");

    let letters = app.letters().await;
    assert_eq!(letters.len(), 1, "neither the second click nor the refused one wrote a letter");
    assert_eq!(letters[0].to_address, "Ada@Example.org");
    assert!(letters[0].text_body.contains("Test service manager invites you"), "{}", letters[0].text_body);
    assert!(letters[0].text_body.contains("until 1 Dec 2026 08:00"), "{}", letters[0].text_body);
    let link = letters[0].text_body.split_whitespace().find_map(|word| word.split_once("/invitation/"));
    let token = link.expect("a link").1;
    assert!(letters[0].html_body.contains(token) && !letters[0].html_body.contains("<b>Ada"));

    let mut browser = app.browser();
    let page = browser.get(&format!("/invitation/{token}")).await;
    assert!(page.status == 200 && page.text().contains("Ada@Example.org"), "{}", page.text());
    let accept =
        |password: &'static str, again: &'static str| [("token", token), ("password", password), ("again", again)];
    assert_eq!(browser.post("/invitation", &accept("mill pond lantern", "mill pond")).await.status, 422);
    assert_eq!(browser.post("/invitation", &accept("12345678", "12345678")).await.status, 422);
    let reply = browser.post("/invitation", &accept("mill pond lantern", "mill pond lantern")).await;
    assert_eq!((reply.status, reply.location()), (303, "/"));
    assert!(browser.get("/").await.text().contains("technician"));
    let once_more = app.browser().post("/invitation", &accept("other words here", "other words here")).await;
    assert!(once_more.status == 422 && once_more.text().contains("no longer good"), "{}", once_more.text());
    assert!(app.signs_in("ada@example.org", "mill pond lantern").await);
    // That somebody came with a used link is on record once a day; a link that was never one is not.
    assert_eq!(app.browser().get(&format!("/invitation/{token}")).await.status, 422);
    assert_eq!(app.browser().get(&format!("/invitation/{}", "0".repeat(token.len()))).await.status, 422);
    let expected = ["person_invited", "invitation_accepted", "invitation_refused"];
    assert_eq!(app.deeds_about("ada@example.org").await, expected);
    let whole = record::verify(&app.deeds.db).await.expect("the record");
    assert!(matches!(whole, Verification::Whole { entries: 3, .. }), "{whole:?}");
    app.stop().await;
}

#[tokio::test]
async fn an_invitation_runs_out_and_a_new_link_ends_the_old_one() {
    let app = TestApp::start().await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let branch = app.branch.to_string();
    let fields = [("name", "Ada"), ("email", "ada@example.org"), ("role", "technician"), ("branch", branch.as_str())];
    manager.post("/people/invite", &fields).await;
    let ada = people::find_by_email_norm(&app.deeds.db, "ada@example.org").await.expect("the store").expect("Ada");
    let links = async || {
        let letters = app.letters().await.into_iter();
        let link = |text: String| text.split_whitespace().find(|word| word.contains("/invitation/")).map(str::to_owned);
        letters.filter_map(|letter| link(letter.text_body)).collect::<Vec<_>>()
    };
    let path = |link: &str| link[link.find("/invitation/").expect("a path")..].to_owned();
    let first = path(&links().await[0]);
    app.clock.advance(7 * 24 * 3600 - 1);
    assert_eq!(app.browser().get(&first).await.status, 200);
    app.clock.advance(1);
    assert_eq!(app.browser().get(&first).await.status, 422, "after seven days");
    assert_eq!(app.browser().get(&first).await.status, 422, "again");
    assert_eq!(app.deeds_about("ada@example.org").await, ["person_invited", "invitation_refused"]);

    let mut manager = app.signed_in(Role::ServiceManager).await;
    for _ in 0..2 {
        // Each is clicked twice: one letter each time.
        for _ in 0..2 {
            let again = manager.post(&format!("/people/{}/invitation", ada.id), &[]).await;
            assert_eq!((again.status, again.location()), (303, format!("/people/{}?done=again", ada.id).as_str()));
        }
        app.clock.advance(60);
    }
    let all = links().await;
    assert_eq!(all.len(), 3);
    assert_eq!(app.browser().get(&path(&all[1])).await.status, 422);
    assert_eq!(app.browser().get(&path(&all[2])).await.status, 200);
    assert_eq!(manager.post("/people/999/invitation", &[]).await.status, 404);
    assert_eq!(manager.post("/people/x/invitation", &[]).await.status, 404);
    app.stop().await;
}

#[tokio::test]
async fn a_wrong_form_names_every_field_and_keeps_what_was_typed() {
    let app = TestApp::start().await;
    let mut manager = app.signed_in(Role::Administrator).await;
    let fields = [("name", "Ada\u{0}"), ("email", "ada at example"), ("branch", "77x"), ("role", "boss")];
    let reply = manager.post("/people/invite", &fields).await;
    assert_eq!(reply.status, 422);
    for field in ["name", "email", "branch", "role"] {
        assert!(reply.body.contains(&format!("href=\"#{field}\"")), "{field}: {}", reply.text());
    }
    assert!(reply.text().contains("4 things to put right"), "{}", reply.text());
    assert!(reply.body.contains("value=\"ada at example\""));
    let nowhere = [("name", "Ada"), ("email", "ada@example.org"), ("branch", "77"), ("role", "trainer")];
    let reply = manager.post("/people/invite", &nowhere).await;
    assert!(reply.status == 422 && reply.body.contains("href=\"#branch\""), "{}", reply.text());
    app.stop().await;
}

#[tokio::test]
async fn a_roster_comes_in_whole_or_not_at_all() {
    let app = TestApp::start_with_bank().await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    let bad =
        "name,email,branch,role\nAda,ada@example.org,Saltmarsh,technician\nBen,trainer@example.org,Coldbrook,boss\n";
    let reply = administrator.post("/people/import", &[("roster", bad)]).await;
    assert_eq!(reply.status, 422);
    for words in ["Nobody was brought in: 2 rows to put right.", "there is no branch", "Coldbrook", "is no role"] {
        assert!(reply.text().contains(words), "{words} in {}", reply.text());
    }
    assert!(reply.body.contains("Ada,ada@example.org,Saltmarsh"), "the roster stays in its field");
    assert_eq!(app.letters().await.len(), 0);

    let taken = "name,email,branch,role\nAda,ada@example.org,Coldbrook,technician\nBen,TRAINER@example.org,Coldbrook,trainer\n\
         test  Trainer,other@example.org,coldbrook,trainer\n";
    let reply = administrator.post("/people/import", &[("roster", taken)]).await;
    assert!(reply.text().contains("3 email belongs to Test trainer already"), "{}", reply.text());
    assert!(reply.text().contains("4 name stands among the people already, at the same branch"), "{}", reply.text());
    assert!(reply.body.contains("test  Trainer,other@example.org"), "nothing typed is lost");
    let list = administrator.get("/people?search=ada%40").await;
    assert!(list.text().contains("Nobody here matches"), "not even the good row: {}", list.text());
    let twice =
        "name,email,branch,role\nAda,ada@example.org,Coldbrook,technician\nAda,ADA@example.org,Coldbrook,trainer\n";
    let reply = administrator.post("/people/import", &[("roster", twice)]).await;
    assert!(reply.status == 422 && reply.text().contains("3 email"), "{}", reply.text());
    // Each refusal is on record, without a word of what stood in the roster.
    let refused = record::of_kind(&app.deeds.db, "roster").await.expect("the record");
    let known: Vec<&str> = refused.iter().map(|entry| entry.detail.as_str()).collect();
    assert_eq!(known.len(), 3, "{known:?}");
    assert!(known.iter().all(|detail| !detail.to_lowercase().contains("ada")), "{known:?}");
    assert_eq!(known[2], r#"{"columns":["email"],"problems":1}"#);

    let good = "name,email,branch,role,scheme\nAda,ada@example.org,Saltmarsh,technician,first-day\nBen,ben@example.org,saltmarsh,Service manager,\n";
    let reply = administrator.post("/people/import", &[("roster", good), ("add_branches", "yes")]).await;
    assert_eq!((reply.status, reply.location()), (303, "/people?done=imported&people=2"));
    assert_eq!(app.letters().await.len(), 2);
    let list = administrator.get("/people?search=example&done=imported&people=2").await;
    assert!(list.text().contains("2 people are in") && list.text().contains("Saltmarsh"), "{}", list.text());
    app.stop().await;
}

#[tokio::test]
async fn a_roster_names_schemes_of_the_bank_in_use() {
    let app = TestApp::start_with_bank().await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    let roster = |scheme: &str| {
        format!(
            "name,email,branch,role,scheme\nAda,ada@example.org,Coldbrook,technician,operator\n\
             Ben,ben@example.org,Coldbrook,technician,{scheme}\n"
        )
    };
    let reply = administrator.post("/people/import", &[("roster", &roster("operater"))]).await;
    assert_eq!(reply.status, 422);
    let row = "3 scheme there is no scheme \"operater\". The schemes are: field-technician, first-day, operator, service-technician; or leave it empty";
    assert!(reply.text().contains(row) && reply.text().contains("1 rows to put right"), "{}", reply.text());
    assert_eq!(app.letters().await.len(), 0);
    assert_eq!(administrator.post("/people/import", &[("roster", &roster("first-day"))]).await.status, 303);
    let ben = people::find_by_email_norm(&app.deeds.db, "ben@example.org").await.expect("the store").expect("Ben");
    assert_eq!(ben.scheme_key.as_deref(), Some("first-day"));
    app.stop().await;
}

#[tokio::test]
async fn the_list_of_people_has_pages_of_fifty() {
    let app = TestApp::start().await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    let rows: String = (0..60).map(|n| format!("P{n:02},p{n}@example.org,Coldbrook,technician\n")).collect();
    let roster = format!("name,email,branch,role\n{rows}");
    assert_eq!(administrator.post("/people/import", &[("roster", &roster)]).await.status, 303);
    let first = administrator.get("/people").await;
    assert!(first.text().contains("Rows 1 to 50 of 64"), "{}", first.text());
    let after = first.between("rel=\"next\" href=\"", "\"").expect("a next page").replace("&amp;", "&");
    let second = administrator.get(&after).await;
    assert!(second.text().contains("Rows 51 to 64 of 64"), "{}", second.text());
    let one = administrator.get("/people?search=P07").await;
    assert!(one.text().contains("Rows 1 to 1 of 1") && one.body.contains("value=\"P07\""), "{}", one.text());
    assert_eq!(administrator.get("/people?page=9999999999999999999999").await.status, 200);
    assert!(administrator.get("/people?page=77").await.text().contains("Nobody here matches"));
    app.stop().await;
}

#[tokio::test]
async fn a_service_manager_brings_in_those_who_learn_and_teach() {
    let app = TestApp::start().await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let form = manager.get("/people/invite").await;
    assert!(form.body.contains("value=\"trainer\"") && !form.body.contains("value=\"administrator\""));
    let branch = app.branch.to_string();
    for (role, expected) in [("trainer", 303), ("service_manager", 422), ("administrator", 422)] {
        let email = format!("new-{role}@example.org");
        let fields = [("name", "New"), ("email", email.as_str()), ("branch", branch.as_str()), ("role", role)];
        assert_eq!(manager.post("/people/invite", &fields).await.status, expected, "{role}");
    }
    app.stop().await;
}

#[tokio::test]
async fn another_role_or_a_suspension_signs_out_at_once() {
    let app = TestApp::start().await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    let branch = app.branch.to_string();
    let email = address_of(Role::Technician);
    let id = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("a person").id;
    let path = format!("/people/{id}");
    let to =
        |role: &'static str, active: &'static str| [("role", role), ("branch", branch.as_str()), ("active", active)];

    let mut theirs = app.signed_in(Role::Technician).await;
    let same = administrator.post(&path, &to("technician", "yes")).await;
    assert_eq!(same.location(), format!("{path}?done=changed"));
    assert_eq!(theirs.get("/").await.status, 200, "nothing was different");

    assert_eq!(administrator.post(&path, &to("trainer", "yes")).await.status, 303);
    assert_eq!(theirs.get("/").await.status, 303);
    assert!(app.signed_in(Role::Technician).await.get("/").await.text().contains("trainer"));

    let mut theirs = app.signed_in(Role::Technician).await;
    assert_eq!(administrator.post(&path, &to("trainer", "no")).await.status, 303);
    assert_eq!(theirs.get("/").await.status, 303);
    assert!(!app.signs_in(&email, PASSWORD).await);
    assert_eq!(administrator.post(&format!("{path}/invitation"), &[]).await.status, 404, "no link for the suspended");
    assert_eq!(administrator.post(&path, &to("trainer", "yes")).await.status, 303);
    assert!(app.signs_in(&email, PASSWORD).await);
    assert_eq!(app.deeds_about(&email).await, ["person_changed"; 3]);

    for (fields, expected) in [
        ([("role", "boss"), ("branch", "x"), ("active", "maybe")], 422),
        ([("role", "trainer"), ("branch", "77"), ("active", "yes")], 422),
    ] {
        assert_eq!(administrator.post(&path, &fields).await.status, expected, "{fields:?}");
    }
    assert_eq!(administrator.post("/people/999", &to("trainer", "yes")).await.status, 404);
    app.stop().await;
}

#[tokio::test]
async fn the_last_administrator_cannot_shut_the_door_behind_themselves() {
    let app = TestApp::start().await;
    let mut administrator = app.signed_in(Role::Administrator).await;
    let email = address_of(Role::Administrator);
    let id = people::find_by_email_norm(&app.deeds.db, &email).await.expect("the store").expect("a person").id;
    let branch = app.branch.to_string();
    for (role, active) in [("technician", "yes"), ("administrator", "no")] {
        let fields = [("role", role), ("branch", branch.as_str()), ("active", active)];
        let reply = administrator.post(&format!("/people/{id}"), &fields).await;
        assert!(reply.status == 422 && reply.text().contains("by another administrator"), "{}", reply.text());
    }
    assert_eq!(administrator.get("/people").await.status, 200);
    app.stop().await;
}

/// The key in a letter.
fn key_in(letter: &str) -> Token {
    let key = letter.split_whitespace().find_map(|word| word.split_once("/invitation/")).expect("a link").1;
    Token::from_text(key).expect("a key")
}

#[tokio::test]
async fn people_come_in_on_both_databases() {
    for_each_database(async |db| {
        let app = TestApp::start_on(db, Settings { secure_cookies: false, ..Settings::default() }).await;
        let roster =
            "name,email,branch,role\nAda,ada@example.org,Saltmarsh,technician\nBen,ben@example.org,Saltmarsh,trainer\n";
        let unknown = UnknownBranches::Add { time_zone: "UTC".to_owned() };
        let done = import_people(&app.deeds, None, roster, unknown.clone()).await.expect("an import");
        assert_eq!(done, Import::Done { people: 2, branches: vec!["Saltmarsh".to_owned()] });
        // A second click finds everyone there; a minute later the same roster is refused.
        let by = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Administrator)).await.expect("the store");
        let by = by.map(|administrator| administrator.id);
        let twice = import_people(&app.deeds, by, roster, unknown.clone()).await.expect("an import");
        assert_eq!(twice, Import::Done { people: 2, branches: Vec::new() });
        app.clock.advance(60);
        let again = import_people(&app.deeds, None, roster, unknown).await.expect("an import");
        assert!(matches!(again, Import::Refused(problems) if problems.len() == 2));

        // Ten people press the same button at the same time: one person, one letter.
        let invitee = |_| Invitee {
            name: PersonName::parse("Cleo").expect("a name"),
            email: EmailAddress::parse("cleo@example.org").expect("an address"),
            branch: app.branch,
            role: Role::Technician,
            scheme_key: None,
        };
        let all = futures_util::future::join_all((0..10).map(|n| invite_person(&app.deeds, None, invitee(n)))).await;
        let sent = all.iter().filter(|outcome| matches!(outcome, Ok(Invited::Sent(_)))).count();
        assert_eq!(sent, 10, "the same click ten times: {all:?}");
        let other = Invitee { role: Role::Trainer, ..invitee(0) };
        let other = invite_person(&app.deeds, None, other).await.expect("the store");
        assert_eq!(other, Invited::AddressTaken, "other words are another deed");
        let letters = app.letters().await;
        assert_eq!(letters.len(), 3);

        // And ten times the same link: one password. Whoever typed it may be signed in by the link a moment longer.
        let key = key_in(&letters[2].text_body);
        let accept = (0..10).map(|_| accept_invitation(&app.deeds, &key, "mill pond lantern", Device::Computer));
        let all = futures_util::future::join_all(accept).await;
        let begun = all.iter().filter(|outcome| matches!(outcome, Ok(Acceptance::Begun(..)))).count();
        let over = all.iter().filter(|outcome| matches!(outcome, Ok(Acceptance::NotValid))).count();
        assert!(begun >= 1 && begun + over == 10, "{all:?}");
        let other = accept_invitation(&app.deeds, &key, "other words here", Device::Computer).await.expect("the store");
        assert!(matches!(other, Acceptance::NotValid), "by no other password");
        app.clock.advance(60);
        let late = accept_invitation(&app.deeds, &key, "mill pond lantern", Device::Computer).await.expect("the store");
        assert!(matches!(late, Acceptance::NotValid), "and not for long");
        assert!(app.signs_in("cleo@example.org", "mill pond lantern").await);
        assert_eq!(app.deeds_about("cleo@example.org").await, ["person_invited", "invitation_accepted"]);
        app.stop().await;
    })
    .await;
}
