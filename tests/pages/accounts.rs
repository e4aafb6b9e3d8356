//! Signing in and out, one's own password and units: as people do it in a browser without scripts.

use crate::support::app::{PASSWORD, TestApp, address_of};
use crate::support::client::{Client, FORM, Reply, encoded};
use sootmark::config::Settings;
use sootmark::domain::people::Role;

async fn sign_in(browser: &mut Client, email: &str, password: &str) -> (u16, String) {
    let reply = browser.post("/sign-in", &[("email", email), ("password", password)]).await;
    (reply.status, reply.text())
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
        ("no address\u{0}", PASSWORD),
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
async fn a_password_is_taken_letter_by_letter_to_its_end() {
    let app = TestApp::start().await;
    let email = address_of(Role::Technician);
    // Source: OWASP ASVS 5.0.0, 6.2.8 and 6.2.9: no letter is changed or cut off, and 64 are allowed.
    let long = " Mill pond  lantern, ".repeat(12);
    let mut browser = app.signed_in(Role::Technician).await;
    let fields = [("old_password", PASSWORD), ("password", &long), ("again", &long)];
    assert_eq!(browser.post("/account/password", &fields).await.status, 303);
    for other in
        [long.trim(), &long.to_lowercase(), &long.replace("  ", " "), &long[..long.len() - 1], &format!("{long} ")]
    {
        assert!(!app.signs_in(&email, other).await, "{other:?}");
        // Whoever was wrong several times waits.
        app.clock.advance(3600);
    }
    assert!(app.signs_in(&email, &long).await);
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

/// The cookie by which a browser is known, as it was set.
fn cookie_of_browser<'r>(reply: &'r Reply, name: &str) -> &'r str {
    let cookies = reply.headers.iter().filter(|(header, _)| header == "set-cookie").map(|(_, cookie)| cookie.as_str());
    cookies.into_iter().find(|cookie| cookie.starts_with(&format!("{name}="))).expect("a cookie of the browser")
}

#[tokio::test]
async fn a_browser_that_is_known_gets_in_beside_whoever_guesses_at_the_same_address() {
    let app = TestApp::start().await;
    let email = address_of(Role::Technician);
    let signs_in = async |email: &str, password: &str, cookie: &str| {
        let headers = [FORM[0], FORM[1], ("Cookie", cookie)];
        app.browser().send("POST", "/sign-in", &headers, &encoded(&[("email", email), ("password", password)])).await
    };
    let first = signs_in(&email, PASSWORD, "").await;
    let cookie = cookie_of_browser(&first, "sootmark-browser");
    for part in ["HttpOnly", "SameSite=Lax", "Path=/", "Max-Age=7776000"] {
        assert!(cookie.contains(part), "{part} in {cookie}");
    }
    let own = cookie.split(';').next().expect("a pair");
    let other = signs_in(&address_of(Role::Trainer), PASSWORD, "").await;
    let others = cookie_of_browser(&other, "sootmark-browser").split(';').next().expect("a pair");
    let mut looked_at = 0;
    for second in 0..200 {
        let guess = signs_in(&email, "guess guess", if second % 2 == 0 { "" } else { others }).await;
        looked_at += usize::from(guess.text().contains("is not right"));
        if second % 7 == 0 {
            let reply = signs_in(&email, PASSWORD, own).await;
            assert_eq!(reply.status, 303, "after {second} s: {}", reply.text());
            assert!(cookie_of_browser(&reply, "sootmark-browser").starts_with(own), "it stays the same");
        }
        app.clock.advance(1);
    }
    assert!(looked_at <= 15, "{looked_at}");
    for cookie in ["", others] {
        let reply = signs_in(&email, PASSWORD, cookie).await;
        assert!(reply.status == 422 && reply.text().contains("Wait "), "{cookie}: {}", reply.text());
    }
    app.stop().await;
    let app = TestApp::start_with(Settings::default()).await;
    let reply = app.browser().post("/sign-in", &[("email", &email), ("password", PASSWORD)]).await;
    assert!(cookie_of_browser(&reply, "__Host-sootmark-browser").contains("Secure"));
    app.stop().await;
}

#[tokio::test]
async fn who_came_by_a_letter_is_known_where_they_did() {
    let app = TestApp::start_with(Settings { behind_proxy: true, secure_cookies: false, ..Settings::default() }).await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    let branch = app.branch.to_string();
    let invitee = [("name", "New"), ("email", "new@example.org"), ("branch", branch.as_str()), ("role", "technician")];
    assert_eq!(manager.post("/people/invite", &invitee).await.status, 303);
    let letters = app.letters().await;
    let link = letters[0].text_body.split_whitespace().find_map(|word| word.split_once("/invitation/"));
    let chosen =
        [("token", link.expect("a link").1), ("password", "mill pond lantern"), ("again", "mill pond lantern")];
    let from = |address: &'static str| [FORM[0], FORM[1], ("X-Forwarded-For", address)];
    let accepted = app.browser().send("POST", "/invitation", &from("192.0.2.7"), &encoded(&chosen)).await;
    assert_eq!(accepted.status, 303, "{}", accepted.text());
    // Many guess at the account, each from an address of its own.
    let with = |password| encoded(&[("email", "new@example.org"), ("password", password)]);
    for at in 0..25 {
        let address = format!("198.51.100.{at}");
        let headers = [FORM[0], FORM[1], ("X-Forwarded-For", address.as_str())];
        app.browser().send("POST", "/sign-in", &headers, &with("guess guess")).await;
    }
    for (address, status) in [("192.0.2.8", 422), ("192.0.2.7", 303)] {
        let reply = app.browser().send("POST", "/sign-in", &from(address), &with("mill pond lantern")).await;
        assert_eq!(reply.status, status, "{address}: {}", reply.text());
    }
    app.stop().await;
}

#[tokio::test]
async fn guesses_at_sign_in_keep_nobody_from_their_own_deeds() {
    let app = TestApp::start().await;
    let email = address_of(Role::Technician);
    let mut here = app.signed_in(Role::Technician).await;
    let mut stranger = app.browser();
    for _ in 0..100 {
        sign_in(&mut stranger, &email, "guess guess").await;
        app.clock.advance(1);
    }
    let (_, text) = sign_in(&mut stranger, &email, PASSWORD).await;
    assert!(text.contains("That was wrong several times. Wait "), "{text}");
    let change =
        |old: &'static str| [("old_password", old), ("password", "mill pond lantern"), ("again", "mill pond lantern")];
    // A session that was left open is no way to guess: what is typed in it is counted too, apart.
    for _ in 0..5 {
        let wrong = here.post("/account/password", &change("guess guess")).await;
        assert!(wrong.text().contains("This is not your password of until now."), "{}", wrong.text());
    }
    let waits = here.post("/account/password", &change(PASSWORD)).await;
    assert!(waits.status == 422 && waits.text().contains("Wait 2 s"), "{}", waits.text());
    app.clock.advance(2);
    assert_eq!(here.post("/account/password", &change(PASSWORD)).await.status, 303);
    // Nor the other way round: what was typed wrongly in a session costs nothing at sign-in.
    let mut trainer = app.signed_in(Role::Trainer).await;
    for _ in 0..5 {
        assert_eq!(trainer.post("/account/password", &change("guess guess")).await.status, 422);
    }
    assert!(app.signs_in(&address_of(Role::Trainer), PASSWORD).await);
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
async fn a_session_ends_for_good_however_it_is_used() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    // Every ten hours for thirty days, but for a second.
    for _ in 0..71 {
        app.clock.advance(10 * 3600);
        assert_eq!(browser.get("/").await.status, 200);
    }
    app.clock.advance(10 * 3600 - 1);
    assert_eq!(browser.get("/").await.status, 200);
    app.clock.advance(1);
    assert_eq!(browser.get("/learn").await.location(), "/sign-in?next=/learn", "thirty days");
    // Whoever decides about others signs in for each shift.
    for role in [Role::ServiceManager, Role::Administrator] {
        let mut browser = app.signed_in(role).await;
        for _ in 0..11 {
            app.clock.advance(3600);
            assert_eq!(browser.get("/").await.status, 200);
        }
        app.clock.advance(3600);
        assert_eq!(browser.get("/people").await.location(), "/sign-in?next=/people", "{role}: twelve hours");
    }
    app.stop().await;
}

#[tokio::test]
async fn signing_in_makes_a_new_token_and_ends_the_one_that_was_there() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    let before = browser.clone();
    let (status, _) = sign_in(&mut browser, &address_of(Role::Technician), PASSWORD).await;
    assert_eq!(status, 303);
    assert_ne!(browser.cookie, before.cookie);
    assert_eq!(before.clone().get("/learn").await.location(), "/sign-in?next=/learn", "the old one opens nothing");
    assert_eq!(browser.get("/learn").await.status, 200);
    // A token that somebody else has put there is not taken over.
    let mut planted = app.browser();
    let token = format!("sootmark={}", "a".repeat(64));
    planted.cookie = Some(token.clone());
    sign_in(&mut planted, &address_of(Role::Technician), PASSWORD).await;
    assert!(planted.cookie.as_ref().is_some_and(|cookie| *cookie != token));
    planted.cookie = Some(token);
    assert_eq!(planted.get("/learn").await.status, 303);
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
    assert_eq!(app.deeds_about(&email).await, ["password_changed"]);
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
