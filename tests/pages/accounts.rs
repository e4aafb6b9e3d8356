//! Signing in and out, passwords, invitations, rosters: as people do it in a browser without scripts.

use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::client::{Client, FORM, encoded};
use sootmark::config::Settings;
use sootmark::domain::people::Role;
use sootmark::store::record::{self, Verification};
use sootmark::store::{people, record::RecordEntry};

async fn sign_in(browser: &mut Client, email: &str, password: &str) -> (u16, String) {
    let reply = browser.post("/sign-in", &[("email", email), ("password", password)]).await;
    (reply.status, reply.text())
}

/// The deeds on record about a person, oldest first.
async fn deeds_about(app: &TestApp, email: &str) -> Vec<String> {
    let person = people::find_by_email_norm(&app.deeds.db, email).await.expect("the store").expect("a person");
    let entries = record::of_subject(&app.deeds.db, "person", person.id.0).await.expect("the record");
    entries.into_iter().map(|RecordEntry { deed, .. }| deed).collect()
}

#[tokio::test]
async fn signing_in_leads_to_where_one_wanted_to_go_and_signing_out_ends_it() {
    let app = TestApp::start().await;
    let mut browser = app.browser();
    let turned = browser.get("/people?branch=1&search=a%20b").await;
    assert_eq!((turned.status, turned.location()), (303, "/sign-in?next=/people%3Fbranch%3D1%26search%3Da%2520b"));
    let form = browser.get(turned.location()).await;
    let next = form.between("name=\"next\" value=\"", "\"").expect("the way back").replace("&amp;", "&");
    let email = address_of(Role::ServiceManager);
    // Whatever the case and with a space behind it, as phones type it.
    let typed = format!("{} ", email.to_uppercase());
    let fields = [("email", typed.as_str()), ("password", PASSWORD), ("next", next.as_str())];
    let reply = browser.post("/sign-in", &fields).await;
    assert_eq!((reply.status, reply.location()), (303, "/people?branch=1&search=a%20b"));
    let cookie = reply.header("set-cookie").expect("a cookie");
    for part in ["sootmark=", "HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(cookie.contains(part), "{cookie}");
    }

    let page = browser.get("/").await;
    assert_eq!(page.status, 200);
    for words in ["Test service manager", "service manager", "Coldbrook", "People"] {
        assert!(page.text().contains(words), "{words} in {}", page.text());
    }
    let before = browser.clone();
    let out = browser.post("/sign-out", &[]).await;
    assert_eq!((out.status, out.location()), (303, "/sign-in?after=sign-out"));
    assert!(browser.cookie.is_none());
    assert_eq!(before.clone().get("/").await.status, 303, "the old cookie opens nothing");
    app.stop().await;
}

#[tokio::test]
async fn a_reader_is_never_led_to_another_site() {
    let app = TestApp::start().await;
    for next in ["https://example.org", "//example.org", "/\\example.org", "/sign-out"] {
        let mut browser = app.browser();
        let email = address_of(Role::Technician);
        let fields = [("email", email.as_str()), ("password", PASSWORD), ("next", next)];
        assert_eq!(browser.post("/sign-in", &fields).await.location(), "/", "{next}");
    }
    app.stop().await;
}

#[tokio::test]
async fn unknown_wrong_suspended_and_not_yet_accepted_all_read_the_same() {
    let app = TestApp::start().await;
    let leaver = app.person("Test leaver", "leaver@example.org", Role::Technician).await;
    app.suspend(leaver).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let branch = app.branch.to_string();
    let invitee = [("name", "New"), ("email", "new@example.org"), ("branch", branch.as_str()), ("role", "technician")];
    assert_eq!(manager.post("/people/invite", &invitee).await.status, 303);
    let technician = address_of(Role::Technician);
    let mut answers = Vec::new();
    for (email, password) in [
        ("unknown@example.org", PASSWORD),
        ("leaver@example.org", PASSWORD),
        ("new@example.org", PASSWORD),
        ("new@example.org", ""),
        (technician.as_str(), "wrong password"),
        (technician.as_str(), ""),
    ] {
        let (status, text) = sign_in(&mut app.browser(), email, password).await;
        answers.push((status, text));
    }
    assert_eq!(answers[0].0, 422);
    assert!(answers[0].1.contains("The e-mail address or the password is not right."), "{}", answers[0].1);
    answers.dedup();
    assert_eq!(answers.len(), 1, "{answers:?}");
    app.stop().await;
}

#[tokio::test]
async fn wrong_passwords_cost_time_but_nobody_is_locked_out() {
    let app = TestApp::start().await;
    let email = address_of(Role::Technician);
    let mut browser = app.browser();
    for _ in 0..5 {
        assert_eq!(sign_in(&mut browser, &email, "guess guess").await.0, 422);
    }
    let (status, text) = sign_in(&mut browser, &email, PASSWORD).await;
    assert!(status == 422 && text.contains("Wait 2 s"), "even the right password waits: {text}");
    assert_eq!(sign_in(&mut browser, &address_of(Role::Trainer), PASSWORD).await.0, 303, "others do not wait");
    app.clock.advance(2);
    assert_eq!(sign_in(&mut browser, &email, PASSWORD).await.0, 303);
    app.stop().await;
}

#[tokio::test]
async fn a_session_ends_after_twelve_idle_hours_and_not_while_it_is_used() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    for _ in 0..3 {
        app.clock.advance(11 * 3600);
        assert_eq!(browser.get("/").await.status, 200);
    }
    app.clock.advance(12 * 3600);
    assert_eq!(browser.get("/").await.status, 303);
    app.stop().await;
}

#[tokio::test]
async fn a_new_password_signs_out_everywhere_else() {
    let app = TestApp::start().await;
    let (mut here, mut there) = (app.signed_in(Role::Trainer).await, app.signed_in(Role::Trainer).await);
    let change = |old: &'static str, new: &'static str, again: &'static str| {
        [("old_password", old), ("password", new), ("again", again)]
    };
    for (fields, field) in [
        (change("not it", "mill pond lantern", "mill pond lantern"), "old_password"),
        (change(PASSWORD, "mill pond lantern", "mill pond"), "again"),
        (change(PASSWORD, "short", "short"), "password"),
        (change(PASSWORD, "password123", "password123"), "password"),
        (change(PASSWORD, "Test Trainer 1", "Test Trainer 1"), "password"),
    ] {
        let reply = here.post("/account/password", &fields).await;
        assert_eq!(reply.status, 422);
        assert!(reply.body.contains(&format!("href=\"#{field}\"")), "{field}: {}", reply.text());
        assert!(reply.body.contains("<title>Error: "), "the title says so");
        assert!(!reply.body.contains("mill pond"), "a password never comes back");
    }
    let reply = here.post("/account/password", &change(PASSWORD, "mill pond lantern", "mill pond lantern")).await;
    assert_eq!((reply.status, reply.location()), (303, "/account?saved=password"));
    assert_eq!(here.get("/account").await.status, 200);
    assert_eq!(there.get("/account").await.status, 303);
    let email = address_of(Role::Trainer);
    assert_eq!(sign_in(&mut app.browser(), &email, PASSWORD).await.0, 422);
    assert_eq!(sign_in(&mut app.browser(), &email, "mill pond lantern").await.0, 303);
    assert_eq!(deeds_about(&app, &email).await, ["password_changed"]);
    app.stop().await;
}

#[tokio::test]
async fn the_scale_for_temperatures_is_kept() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    assert_eq!(browser.post("/account/units", &[("unit", "kelvin")]).await.status, 422);
    assert_eq!(browser.post("/account/units", &[("unit", "fahrenheit")]).await.location(), "/account?saved=units");
    let page = browser.get("/account").await;
    assert!(page.body.contains("<option value=\"fahrenheit\" selected>"), "{}", page.body);
    app.stop().await;
}

#[tokio::test]
async fn forms_from_elsewhere_are_refused_whatever_the_address() {
    let app = TestApp::start().await;
    let browser = app.signed_in(Role::Technician).await;
    let host = app.address.to_string();
    let (ours, other, insecure) = (format!("http://{host}"), format!("http://{host}.example.org"), "null".to_owned());
    let cases: [(&[(&str, &str)], u16); 8] = [
        (&[("Sec-Fetch-Site", "same-origin")], 303),
        (&[("Origin", &ours)], 303),
        (&[("Sec-Fetch-Site", "same-origin"), ("Origin", &ours)], 303),
        (&[("Sec-Fetch-Site", "cross-site")], 403),
        (&[("Sec-Fetch-Site", "same-site")], 403),
        (&[("Origin", &other)], 403),
        (&[("Origin", &insecure)], 403),
        (&[], 403),
    ];
    for (headers, expected) in cases {
        let mut all = vec![("Content-Type", "application/x-www-form-urlencoded")];
        all.extend_from_slice(headers);
        let mut browser = browser.clone();
        let body = encoded(&[("form_token", &browser.form_token), ("unit", "celsius")]);
        let reply = browser.send("POST", "/account/units", &all, &body).await;
        assert_eq!(reply.status, expected, "{headers:?}");
        if expected == 403 {
            assert!(reply.text().contains("Nothing was saved."), "{}", reply.text());
            assert_eq!(browser.send("POST", "/no-such-page", &all, &body).await.status, 403);
            assert_eq!(browser.send("POST", "/sign-in", &all, &body).await.status, 403);
        }
    }
    app.stop().await;
}

#[tokio::test]
async fn scripts_may_bring_the_form_token_in_a_header() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let token = browser.form_token.clone();
    let mut headers = FORM.to_vec();
    headers.push(("X-Form-Token", &token));
    assert_eq!(browser.send("POST", "/account/units", &headers, "unit=celsius").await.status, 303);
    app.stop().await;
}

#[tokio::test]
async fn what_no_browser_sends_is_refused_with_a_page() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let token = browser.form_token.clone();
    let mut compressed = FORM.to_vec();
    compressed.push(("Content-Encoding", "gzip"));
    assert_eq!(browser.send("POST", "/account/units", &compressed, "unit=celsius").await.status, 415);
    let large = encoded(&[("form_token", &token), ("unit", &"x".repeat(70_000))]);
    assert_eq!(browser.send("POST", "/account/units", &FORM, &large).await.status, 413);
    let not_utf8 = browser.post("/account/units", &[]).await;
    assert_eq!(not_utf8.status, 422);
    assert_eq!(browser.get("/people/import?x=%zz").await.status, 404);
    assert_eq!(browser.get("/assets/0/../../Cargo.toml").await.status, 404);
    app.stop().await;
}

#[tokio::test]
async fn every_reply_carries_the_headers_that_keep_a_page_ours() {
    let app = TestApp::start().await;
    for (path, cache) in [("/sign-in", "no-store"), ("/no-such-page", "no-store"), ("/health", "no-store")] {
        let reply = app.browser().get(path).await;
        assert_eq!(reply.header("cache-control"), Some(cache), "{path}");
        let policy = reply.header("content-security-policy").expect("a policy");
        assert!(policy.starts_with("default-src 'none'; script-src 'self'; style-src 'self'"), "{policy}");
        assert!(!policy.contains("unsafe"), "{policy}");
        assert_eq!(reply.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(reply.header("referrer-policy"), Some("same-origin"));
        assert!(reply.header("x-request-id").is_some_and(|id| id.len() == 36));
    }
    let page = app.browser().get("/sign-in").await;
    let style = page.between("rel=\"stylesheet\" href=\"", "\"").expect("a stylesheet");
    let style = app.browser().get(style).await;
    assert_eq!(style.status, 200);
    assert!(style.header("cache-control").is_some_and(|cache| cache.contains("immutable")));
    assert_eq!(app.browser().get("/ready").await.body, "ready\n");
    app.stop().await;
}

#[tokio::test]
async fn over_https_the_cookie_insists_on_it() {
    let app = TestApp::start_with(Settings::default()).await;
    let email = address_of(Role::Technician);
    let reply = app.browser().post("/sign-in", &[("email", &email), ("password", PASSWORD)]).await;
    let cookie = reply.header("set-cookie").expect("a cookie");
    assert!(cookie.starts_with("__Host-sootmark=") && cookie.contains("Secure"), "{cookie}");
    app.stop().await;
}

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

    let again = manager.post("/people/invite", &fields).await;
    assert_eq!(again.status, 422);
    assert!(again.text().contains("Somebody has this address already."), "{}", again.text());
    assert!(again.body.contains("value=\"Ada@Example.org\""), "what was typed stays");

    let letters = app.letters().await;
    assert_eq!(letters.len(), 1, "the refused one wrote no letter");
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
    assert_eq!(sign_in(&mut app.browser(), "ada@example.org", "mill pond lantern").await.0, 303);
    assert_eq!(deeds_about(&app, "ada@example.org").await, ["person_invited", "invitation_accepted"]);
    let whole = record::verify(&app.deeds.db).await.expect("the record");
    assert!(matches!(whole, Verification::Whole { entries: 2, .. }), "{whole:?}");
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

    let mut manager = app.signed_in(Role::ServiceManager).await;
    for _ in 0..2 {
        let again = manager.post(&format!("/people/{}/invitation", ada.id), &[]).await;
        assert_eq!((again.status, again.location()), (303, "/people?done=again"));
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
    let app = TestApp::start().await;
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

    let taken =
        "name,email,branch,role\nAda,ada@example.org,Coldbrook,technician\nBen,TRAINER@example.org,Coldbrook,trainer\n";
    let reply = administrator.post("/people/import", &[("roster", taken)]).await;
    assert!(reply.text().contains("belongs to Test trainer already"), "{}", reply.text());
    let list = administrator.get("/people?search=ada%40").await;
    assert!(list.text().contains("Nobody here matches"), "not even the good row: {}", list.text());

    let good = "name,email,branch,role,scheme\nAda,ada@example.org,Saltmarsh,technician,first-day\nBen,ben@example.org,saltmarsh,Service manager,\n";
    let reply = administrator.post("/people/import", &[("roster", good), ("add_branches", "yes")]).await;
    assert_eq!((reply.status, reply.location()), (303, "/people?done=imported&people=2"));
    assert_eq!(app.letters().await.len(), 2);
    let list = administrator.get("/people?search=example&done=imported&people=2").await;
    assert!(list.text().contains("2 people are in") && list.text().contains("Saltmarsh"), "{}", list.text());
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
