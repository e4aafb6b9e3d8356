//! Where somebody is signed in, ending that, and the link for a forgotten password.

use crate::support::app::{PASSWORD, TestApp, address_of};
use sootmark::domain::people::Role;
use sootmark::store::{people, sessions};

#[tokio::test]
async fn sessions_are_listed_and_ended_one_by_one_and_all_others_at_once() {
    let app = TestApp::start().await;
    let mut here = app.signed_in(Role::Technician).await;
    let (mut lost, mut other) = (app.signed_in(Role::Technician).await, app.signed_in(Role::Technician).await);
    let stranger = app.signed_in(Role::Trainer).await;
    let page = here.get("/account/sessions").await;
    assert!(page.text().contains("Here, on a device that does not say what it is"), "{}", page.text());
    assert_eq!(page.body.matches("Sign out there").count(), 2);
    let id = page.body.split("name=\"session\" value=\"").filter_map(|rest| rest.split('"').next()).nth(2);
    // The newest stands first: the third that is listed began second; it is not this one.
    let id = id.expect("an id").to_owned();
    assert_eq!(here.post("/account/sessions", &[("session", &id)]).await.location(), "/account/sessions?done=ended");
    let ended = [&mut lost, &mut other];
    let mut gone = 0;
    for browser in ended {
        gone += u32::from(browser.get("/learn").await.status == 303);
    }
    assert_eq!(gone + u32::from(here.get("/learn").await.status == 303), 1, "one of three");
    // Another person's session is none of one's own.
    let person = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Trainer)).await.expect("the store");
    let foreign = sessions::of_person(&app.deeds.db, person.expect("a person").id).await.expect("the store");
    let mut asking = app.signed_in(Role::Technician).await;
    asking.get("/account/sessions").await;
    let reply = asking.post("/account/sessions", &[("session", &foreign[0].token_hash)]).await;
    assert_eq!((reply.status, reply.location()), (303, "/account/sessions"));
    assert_eq!(stranger.clone().get("/learn").await.status, 200);
    asking.post("/account/sessions", &[("session", "others")]).await;
    assert_eq!(asking.get("/learn").await.status, 200);
    let all = people::find_by_email_norm(&app.deeds.db, &address_of(Role::Technician)).await.expect("the store");
    let left = sessions::of_person(&app.deeds.db, all.expect("a person").id).await.expect("the store");
    assert_eq!(left.len(), 1);
    assert!(app.deeds_about(&address_of(Role::Technician)).await.contains(&"sessions_ended".to_owned()));
    app.stop().await;
}

#[tokio::test]
async fn what_somebody_sits_at_is_told_from_what_their_browser_says() {
    let app = TestApp::start().await;
    let body = format!("email={}&password={}", address_of(Role::Technician), PASSWORD.replace(' ', "+"));
    for (agent, words) in [
        ("Mozilla/5.0 (X11; Linux x86_64)", "on a computer"),
        ("Mozilla/5.0 (Linux; Android 15) Mobile", "on a phone or tablet"),
        ("a script", "on a device that does not say what it is"),
    ] {
        let mut browser = app.browser();
        let headers = [
            ("content-type", "application/x-www-form-urlencoded"),
            ("sec-fetch-site", "same-origin"),
            ("user-agent", agent),
        ];
        assert_eq!(browser.send("POST", "/sign-in", &headers, &body).await.status, 303);
        let page = browser.get("/account/sessions").await;
        assert!(page.text().contains(&format!("Here, {words}")), "{agent}: {}", page.text());
    }
    app.stop().await;
}

/// The letters about forgotten passwords, once what was asked for has run.
async fn links(app: &TestApp, count: usize) -> Vec<String> {
    for _ in 0..2000 {
        let letters = app.letters().await;
        let of: Vec<String> = letters
            .iter()
            .filter_map(|letter| letter.text_body.split_whitespace().find(|word| word.contains("/invitation/")))
            .map(|link| link[link.find("/invitation/").expect("a path")..].to_owned())
            .collect();
        if of.len() >= count {
            return of;
        }
        tokio::task::yield_now().await;
    }
    panic!("{count} letters were to come")
}

#[tokio::test]
async fn a_forgotten_password_is_chosen_anew_by_a_letter_and_strangers_learn_nothing() {
    let app = TestApp::start().await;
    let mut signed_in = app.signed_in(Role::Technician).await;
    let mut browser = app.browser();
    assert!(browser.get("/sign-in").await.body.contains("href=\"/forgotten\""));
    let known = browser.post("/forgotten", &[("email", &address_of(Role::Technician))]).await;
    for unknown in ["nobody@example.org", "no address", ""] {
        let reply = browser.post("/forgotten", &[("email", unknown)]).await;
        assert_eq!(reply.seen(), known.seen(), "{unknown}");
    }
    let first = links(&app, 1).await.remove(0);
    // Asked again at once: no second letter. Ten minutes later there is one, and both are good: anybody may ask.
    browser.post("/forgotten", &[("email", &address_of(Role::Technician))]).await;
    app.clock.advance(600);
    browser.post("/forgotten", &[("email", &address_of(Role::Technician))]).await;
    let all = links(&app, 2).await;
    assert_eq!(all.len(), 2);
    let second = all.into_iter().find(|link| *link != first).expect("another link");
    assert_eq!(browser.get(&first).await.status, 200);
    assert_eq!(browser.get(&second).await.status, 200);
    assert!(app.signs_in(&address_of(Role::Technician), PASSWORD).await, "until it is used the password stays");
    let token = second.strip_prefix("/invitation/").expect("a path");
    let fields = [("token", token), ("password", "mill pond lantern"), ("again", "mill pond lantern")];
    assert_eq!(browser.post("/invitation", &fields).await.status, 303);
    assert_eq!(browser.get(&first).await.status, 422, "a password is chosen: no other link opens anything");
    assert!(!app.signs_in(&address_of(Role::Technician), PASSWORD).await);
    assert_eq!(signed_in.get("/learn").await.status, 303, "signed out everywhere");
    let deeds = app.deeds_about(&address_of(Role::Technician)).await;
    assert_eq!(deeds.iter().filter(|deed| *deed == "password_link_asked_for").count(), 2, "{deeds:?}");
    // It is good for an hour.
    app.clock.advance(600);
    browser.post("/forgotten", &[("email", &address_of(Role::Trainer))]).await;
    let third = links(&app, 3).await.into_iter().find(|link| *link != first && *link != second).expect("a third");
    app.clock.advance(3599);
    assert_eq!(browser.get(&third).await.status, 200);
    app.clock.advance(1);
    assert_eq!(browser.get(&third).await.status, 422);
    app.stop().await;
}

#[tokio::test]
async fn a_stranger_who_says_that_a_password_is_forgotten_takes_no_invitation_away() {
    let app = TestApp::start().await;
    let mut manager = app.signed_in(Role::ServiceManager).await;
    manager.get("/people/invite").await;
    let fields = [("name", "Ada Lovell"), ("email", "ada@example.org"), ("branch", "1"), ("role", "technician")];
    assert_eq!(manager.post("/people/invite", &fields).await.location(), "/people?done=invited");
    let invitation = links(&app, 1).await.remove(0);
    app.clock.advance(700);
    app.browser().post("/forgotten", &[("email", "ada@example.org")]).await;
    links(&app, 2).await;
    // She reads her letters the next morning.
    app.clock.advance(16 * 3600);
    let mut theirs = app.browser();
    assert_eq!(theirs.get(&invitation).await.status, 200);
    let token = invitation.strip_prefix("/invitation/").expect("a path");
    let chosen = [("token", token), ("password", "mill pond lantern"), ("again", "mill pond lantern")];
    assert_eq!(theirs.post("/invitation", &chosen).await.status, 303);
    app.stop().await;
}

#[tokio::test]
async fn passwords_that_are_quickly_guessed_are_refused_in_words_that_help() {
    let app = TestApp::start().await;
    let mut browser = app.signed_in(Role::Technician).await;
    browser.get("/account").await;
    // From memory, not confirmed: of these, keyboards, dates and words with a digit are what guessers try first.
    for easy in ["qwertyuiop", "zaq12wsx", "dragon123", "monkey2020", "technician1", "asdfghjkl1", "01012001"] {
        let reply =
            browser.post("/account/password", &[("old_password", PASSWORD), ("password", easy), ("again", easy)]).await;
        assert_eq!(reply.status, 422, "{easy}");
        assert!(
            reply.text().contains("hree or four unrelated words") || reply.text().contains("Choose another"),
            "{easy}"
        );
    }
    let long = "mill pond lantern ".repeat(14);
    for good in ["mill pond lantern", "Xq7!pR2#vW", &long[..250]] {
        let mut browser = app.signed_in(Role::Trainer).await;
        browser.get("/account").await;
        let fields = [("old_password", PASSWORD), ("password", good), ("again", good)];
        let reply = browser.post("/account/password", &fields).await;
        assert_eq!(reply.status, 303, "{good}: {}", reply.text());
        browser.get("/account").await;
        let back = [("old_password", good), ("password", PASSWORD), ("again", PASSWORD)];
        assert_eq!(browser.post("/account/password", &back).await.status, 303, "{good}");
    }
    app.stop().await;
}
